// Areas of a picture are marked by drawing on it: the first rectangle is the surface, the second one the white sheet.
"use strict";
(function () {
  var file = document.getElementById("picture"), canvas = document.getElementById("marked");
  if (!file) { return; }
  var fields = ["spot", "sheet-area"].map(function (id) { return document.getElementById(id); });
  var picture = null, next = 0, from = null;
  function css(name) { return getComputedStyle(document.documentElement).getPropertyValue(name).trim(); }
  function show() {
    var ctx = canvas.getContext("2d");
    ctx.drawImage(picture, 0, 0);
    ctx.font = Math.max(12, canvas.width / 40) + "px system-ui, sans-serif";
    fields.forEach(function (field, i) {
      var a = field.value.split(/[ ,;]+/).map(Number);
      if (a.length !== 4 || a.some(isNaN)) { return; }
      ctx.lineWidth = Math.max(2, canvas.width / 300);
      [["#fff", 0], [css("--accent"), ctx.lineWidth]].forEach(function (of) {
        ctx.strokeStyle = of[0];
        ctx.setLineDash(of[1] ? [4 * of[1], 3 * of[1]] : []);
        ctx.strokeRect(a[0], a[1], a[2], a[3]);
      });
      ctx.strokeStyle = "#fff";
      ctx.setLineDash([]);
      ctx.strokeText(i ? "white sheet" : "surface", a[0] + 4, a[1] - 4);
      ctx.fillText(i ? "white sheet" : "surface", a[0] + 4, a[1] - 4);
    });
  }
  function at(e) {
    var box = canvas.getBoundingClientRect(), scale = canvas.width / box.width;
    return [Math.round((e.clientX - box.left) * scale), Math.round((e.clientY - box.top) * scale)];
  }
  function mark(to) {
    fields[next].value = [Math.max(0, Math.min(from[0], to[0])), Math.max(0, Math.min(from[1], to[1])), Math.abs(to[0] - from[0]),
      Math.abs(to[1] - from[1])].join(",");
    show();
  }
  file.addEventListener("change", function () {
    if (!file.files.length) { return; }
    createImageBitmap(file.files[0]).then(function (got) {
      picture = got;
      canvas.width = got.width;
      canvas.height = got.height;
      next = 0;
      document.getElementById("mark").hidden = false;
      show();
    }, function () { document.getElementById("mark").hidden = true; });
  });
  canvas.addEventListener("pointerdown", function (e) { from = at(e); canvas.setPointerCapture(e.pointerId); });
  canvas.addEventListener("pointermove", function (e) { if (from) { mark(at(e)); } });
  canvas.addEventListener("pointerup", function (e) {
    var to = at(e);
    if (from && to[0] !== from[0] && to[1] !== from[1]) { mark(to); next = 1 - next; }
    from = null;
  });
  fields.forEach(function (field) { field.addEventListener("change", function () { if (picture) { show(); } }); });
})();
