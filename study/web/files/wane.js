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
  // The menu of a narrow window opens and closes.
  var opens = document.getElementById("menu-button");
  function open(is) { opens.setAttribute("aria-expanded", String(is)); }
  if (opens) {
    opens.hidden = false;
    opens.addEventListener("click", function () { open(opens.getAttribute("aria-expanded") !== "true"); });
    document.addEventListener("keydown", function (e) {
      if (e.key !== "Escape" || opens.getAttribute("aria-expanded") !== "true") { return; }
      open(false);
      opens.focus();
    });
  }
  // A page whose figures are older than the study says when newer ones are there; one that has none yet appears by itself.
  var older = document.querySelector("[data-again]"), making = document.querySelector("[data-making]"), asked = 0;
  function ask() {
    fetch(location.href, { method: "HEAD", credentials: "same-origin" }).then(function (answer) {
      var late = answer.headers.has("Wane-Up-To");
      if (late && ++asked < 200) { setTimeout(ask, 3000); return; }
      if (late) { return; }
      if (making) { location.reload(); return; }
      older.textContent = "Newer figures are ready. ";
      var link = document.createElement("a");
      link.href = location.href;
      link.textContent = "Load the page again";
      older.append(link);
    }, function () { setTimeout(ask, 10000); });
  }
  if (older || making) { setTimeout(ask, 1000); }

  // Lists to choose from send their form at once.
  document.querySelectorAll("form[data-at-once] select").forEach(function (s) {
    s.addEventListener("change", function () { s.form.requestSubmit(); });
  });
})();
