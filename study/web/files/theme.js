// What must be known before the page is painted: that there is script, and the theme that a person chose: light, dark or
// that of the system.
"use strict";
(function () {
  var kept = null;
  document.documentElement.classList.add("script"); // what only script can open is closed from the beginning
  try { kept = localStorage.getItem("wane-theme"); } catch (e) { /* the browser keeps nothing */ }
  if (kept === "light" || kept === "dark") { document.documentElement.dataset.theme = kept; }
})();
