// The script of the study pages. Without it every page works, and figures are pictures.
"use strict";
(function () {
  // The theme: that of the system, light, dark.
  var button = document.getElementById("theme"), root = document.documentElement;
  function say() { button.textContent = "Theme: " + (root.dataset.theme || "system"); }
  if (button) {
    button.hidden = false;
    say();
    button.addEventListener("click", function () {
      var next = { system: "light", light: "dark", dark: "system" }[root.dataset.theme || "system"];
      if (next === "system") { delete root.dataset.theme; } else { root.dataset.theme = next; }
      try { localStorage.setItem("wane-theme", next); } catch (e) { /* it holds for this page */ }
      say();
      document.dispatchEvent(new CustomEvent("wane-theme"));
    });
  }
  // Lists to choose from send their form at once.
  document.querySelectorAll("form[data-at-once] select").forEach(function (s) {
    s.addEventListener("change", function () { s.form.requestSubmit(); });
  });
})();
