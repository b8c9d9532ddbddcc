// The keys of the page on which a reading is judged. They do what its links and buttons do.
"use strict";
(function () {
  var why = document.getElementById("why"), on = document.getElementById("keys-on");
  document.getElementById("keys-choice").hidden = false;
  try { on.checked = localStorage.getItem("wane-keys") !== "off"; } catch (e) { /* they work on this page */ }
  on.addEventListener("change", function () {
    try { localStorage.setItem("wane-keys", on.checked ? "on" : "off"); } catch (e) { /* it holds for this page */ }
  });
  function press(id) {
    var button = document.getElementById(id);
    if (!why.value.trim()) { why.focus(); why.reportValidity(); return; }
    why.form.requestSubmit(button);
  }
  function follow(id) { var link = document.getElementById(id); if (link) { link.click(); } }
  document.addEventListener("keydown", function (e) {
    var field = e.target.closest("input:not([type=radio]):not([type=checkbox]), textarea, select");
    if (e.key === "Escape" && field) { field.blur(); return; }
    if (!on.checked || field || e.ctrlKey || e.altKey || e.metaKey) { return; }
    var act = { n: function () { follow("next"); }, p: function () { follow("previous"); }, w: function () { why.focus(); },
      r: function () { press("release"); }, s: function () { press("aside"); } }[e.key.toLowerCase()];
    if (act) { e.preventDefault(); act(); }
  });
})();
