// Files can be dragged onto the place where they are chosen. The form sends them.
"use strict";
(function () {
  document.querySelectorAll("[data-drop]").forEach(function (place) {
    var input = place.querySelector("input[type=file]"), chosen = place.querySelector("[data-chosen]");
    function say() {
      var names = Array.from(input.files, function (f) { return f.name; }), n = names.length;
      chosen.textContent = n ? n + (n === 1 ? " file: " : " files: ") + names.slice(0, 5).join(", ") +
        (n > 5 ? " and " + (n - 5) + " more" : "") : "Choose files, or drag them here.";
    }
    input.addEventListener("change", say);
    ["dragenter", "dragover"].forEach(function (name) {
      place.addEventListener(name, function (e) { e.preventDefault(); place.classList.add("over"); });
    });
    place.addEventListener("dragleave", function () { place.classList.remove("over"); });
    place.addEventListener("drop", function (e) {
      e.preventDefault();
      place.classList.remove("over");
      if (e.dataTransfer.files.length) { input.files = e.dataTransfer.files; say(); }
    });
  });
})();
