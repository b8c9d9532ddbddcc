// The theme that a person chose, before the page is painted: light, dark or that of the system.
"use strict";
(function () {
  var kept = null;
  try { kept = localStorage.getItem("wane-theme"); } catch (e) { /* the browser keeps nothing */ }
  if (kept === "light" || kept === "dark") { document.documentElement.dataset.theme = kept; }
})();
