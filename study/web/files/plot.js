// Figures that can be enlarged: a figure names the address of its numbers and what of them is drawn.
"use strict";
(function () {
  var dashes = [[], [8, 4], [2, 3], [10, 3, 2, 3], [5, 5]];
  var colours = ["--one", "--two", "--three", "--four", "--five"];
  function css(name) { return getComputedStyle(document.documentElement).getPropertyValue(name).trim(); }

  // curves: each row is a curve with lists of points.
  function curves(rows, x, y) {
    var marks = ["pull", "spot", "angle_deg", "polarisation", "quantity", "condition", "replicate"];
    var differ = marks.filter(function (m) { return rows.some(function (r) { return r[m] !== rows[0][m]; }); });
    if (!differ.length) { differ = ["pull"]; }
    return rows.map(function (r) {
      return { label: differ.map(function (m) { return name(m, r[m]); }).join(", "), x: r[x], y: r[y] };
    });
  }
  function name(mark, value) {
    if (mark === "angle_deg") { return value + "°"; }
    if (mark === "pull" || mark === "spot") { return mark + " " + value; }
    return value === null ? "-" : String(value);
  }

  // rows: each row is a point; those of a spot in a condition are one line.
  function lines(rows, x, y) {
    var of = new Map();
    rows.forEach(function (r) {
      if (r[y] === null || r[x] === null) { return; }
      var key = "spot " + r.spot + (r.condition ? ", " + r.condition : "");
      if (!of.has(key)) { of.set(key, { label: key, x: [], y: [], u: [] }); }
      var line = of.get(key);
      line.x.push(r[x]);
      line.y.push(r[y]);
      line.u.push(r["u_" + y]);
    });
    return Array.from(of.values());
  }

  function draw(figure, rows) {
    var x = figure.dataset.x, y = figure.dataset.y, points = figure.dataset.kind === "rows";
    var all = points ? lines(rows, x, y) : rows.length ? curves(rows, x, y) : [];
    var canvas = figure.querySelector(".canvas");
    canvas.textContent = "";
    if (!all.length) { canvas.textContent = "There is nothing to draw."; return null; }
    var data = uPlot.join(all.map(function (s) {
      var order = s.x.map(function (_, i) { return i; }).sort(function (a, b) { return s.x[a] - s.x[b]; });
      return [order.map(function (i) { return s.x[i]; }), order.map(function (i) { return s.y[i]; })];
    }));
    var ink = css("--ink"), line = css("--line"), font = "13px system-ui, sans-serif";
    function axis(label, size) {
      return { label: label, stroke: ink, grid: { stroke: line, width: 1 }, ticks: { stroke: line }, font: font,
        labelFont: font, size: size };
    }
    var doseUnit = points && rows.length ? rows.find(function (r) { return r.dose_unit; }) : null;
    var options = {
      width: Math.max(canvas.clientWidth, 240), height: points ? 260 : 380,
      scales: { x: { time: false } },
      axes: [axis(points ? x + (doseUnit ? " / " + doseUnit.dose_unit : "") : "wavelength / nm", 46), axis(label(y), 64)],
      series: [{ label: points ? x : "nm" }].concat(all.map(function (s, i) {
        return { label: s.label, stroke: css(colours[i % colours.length]), width: 1.6, spanGaps: true,
          dash: dashes[Math.floor(i / colours.length) % dashes.length],
          points: { show: points, size: 7 }, value: function (_, v) { return v === null ? "-" : v.toPrecision(4); } };
      })),
      cursor: { drag: { x: true, y: true, uni: 20 }, focus: { prox: 24 } }, focus: { alpha: 0.35 },
      legend: { live: true }
    };
    return new uPlot(options, data, canvas);
  }
  function label(y) {
    if (y === "value") { return "fraction"; }
    var unit = /_(pp|nm)$/.exec(y);
    return (unit ? y.slice(0, -3) : y).replace(/_/g, " ") + (unit ? " / " + unit[1] : "");
  }

  document.querySelectorAll("figure[data-src]").forEach(function (figure) {
    var rows = null, plot = null, wide = 0;
    function again() {
      if (!rows) { return; }
      if (plot) { plot.destroy(); }
      plot = draw(figure, rows);
    }
    fetch(figure.dataset.src, { credentials: "same-origin" }).then(function (answer) {
      if (!answer.ok) { throw new Error("the server said " + answer.status); }
      return answer.json();
    }).then(function (got) {
      rows = got;
      again();
      new ResizeObserver(function () {
        var now = figure.querySelector(".canvas").clientWidth;
        if (plot && now !== wide) { wide = now; plot.setSize({ width: Math.max(now, 240), height: plot.height }); }
      }).observe(figure);
    }).catch(function (fault) {
      figure.querySelector(".canvas").textContent = "The figure cannot be drawn: " + fault.message + ". Load the page again.";
    });
    document.addEventListener("wane-theme", again);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  });
})();
