// Figures that can be enlarged: a figure names the address of its numbers and what of them is drawn. Curves differ by
// colour, dash pattern and mark together, as in the figures that are files.
"use strict";
(function () {
  // The marks of curves within -1 to 1, and whether they are filled.
  var marks = [["M-1,0a1,1 0 1,0 2,0a1,1 0 1,0 -2,0", true], ["M-.9,-.9H.9V.9H-.9Z", false], ["M0,-1.1L1,.8H-1Z", true],
    ["M-1,0a1,1 0 1,0 2,0a1,1 0 1,0 -2,0", false], ["M-.9,-.9H.9V.9H-.9Z", true], ["M0,-1.1L1,.8H-1Z", false],
    ["M-1,-1L1,1M1,-1L-1,1", false], ["M-1.2,0H1.2M0,-1.2V1.2", false]];
  var markSize = 3.6, mostMarks = 14;
  function css(name) { return getComputedStyle(document.documentElement).getPropertyValue(name).trim(); }

  // The style of curve i. After eight curves the colours start again with other dashes and marks.
  function styleOf(i) {
    var turn = (i + Math.floor(i / 8)) % 8, dash = css("--wane-dash-" + turn);
    return { colour: css("--wane-line-" + i % 8), dash: dash === "none" ? [] : dash.split(" ").map(Number), mark: marks[turn] };
  }

  // curves: each row is a curve with lists of points; what is a fraction is shown in percent.
  function curves(rows, x, y) {
    var differ = ["pull", "spot", "angle_deg", "polarisation", "quantity", "condition", "replicate"].filter(function (m) {
      return rows.some(function (r) { return r[m] !== rows[0][m]; });
    });
    if (!differ.length) { differ = ["pull"]; }
    return rows.map(function (r) {
      var order = r[x].map(function (_, i) { return i; }).sort(function (a, b) { return r[x][a] - r[x][b]; });
      return { label: differ.map(function (m) { return name(m, r[m]); }).join(", "),
        x: order.map(function (i) { return r[x][i]; }), y: order.map(function (i) { return 100 * r[y][i]; }) };
    });
  }
  function name(mark, value) {
    if (mark === "angle_deg") { return value + "°"; }
    if (mark === "pull" || mark === "spot" || mark === "replicate") { return mark + " " + value; }
    return value === null ? "-" : String(value);
  }

  // rows: each row is a point; those of a spot in a condition are one line.
  function lines(rows, x, y) {
    var of = new Map();
    rows.forEach(function (r) {
      if (r[y] === null || r[x] === null) { return; }
      var key = "spot " + r.spot + (r.condition ? ", " + r.condition : "");
      if (!of.has(key)) { of.set(key, []); }
      of.get(key).push(r);
    });
    return Array.from(of, function (entry) {
      var sorted = entry[1].slice().sort(function (a, b) { return a[x] - b[x]; });
      return { label: entry[0], x: sorted.map(function (r) { return r[x]; }), y: sorted.map(function (r) { return r[y]; }),
        u: sorted.map(function (r) { return r["u_" + y]; }) };
    });
  }

  // labels of the axes.
  function labels(rows, x, y, points) {
    if (points) {
      var unit = /_(pp|nm)$/.exec(y), dosed = rows.find(function (r) { return r.dose_unit; });
      return [x + (dosed ? " / " + dosed.dose_unit : ""), y.replace(/_(pp|nm)$/, "").replace(/_/g, " ") + (unit ? " / " + unit[1] : "")];
    }
    var through = rows.some(function (r) { return r.quantity === "T"; }), back = rows.some(function (r) { return r.quantity !== "T"; });
    return ["wavelength / nm", (through ? back ? "reflectance, transmittance" : "transmittance" : "reflectance") + " / %"];
  }

  // over draws marks, and bars of the expanded uncertainty, over the lines.
  function over(all, styles) {
    return function (u) {
      var ctx = u.ctx, px = devicePixelRatio || 1;
      ctx.save();
      ctx.beginPath();
      ctx.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
      ctx.clip();
      all.forEach(function (s, i) {
        if (!u.series[i + 1].show) { return; }
        ctx.globalAlpha = u.series[i + 1].alpha;
        ctx.strokeStyle = ctx.fillStyle = styles[i].colour;
        var seen = s.x.map(function (_, k) { return k; }).filter(function (k) {
          return s.y[k] !== null && s.x[k] >= u.scales.x.min && s.x[k] <= u.scales.x.max;
        });
        // Few marks of a long curve, each curve at other places.
        var step = Math.max(1, seen.length / mostMarks), first = step > 1 ? step * (i % all.length + 0.5) / all.length : 0;
        for (var k = first; k < seen.length; k += step) {
          var at = seen[Math.floor(k)], left = u.valToPos(s.x[at], "x", true), top = u.valToPos(s.y[at], "y", true);
          if (s.u && s.u[at]) { bar(ctx, left, u.valToPos(s.y[at] + 2 * s.u[at], "y", true), u.valToPos(s.y[at] - 2 * s.u[at], "y", true), (3 + i % 8) * px); }
          mark(ctx, styles[i].mark, left, top, markSize * px);
        }
      });
      ctx.restore();
    };
  }
  function bar(ctx, x, high, low, cap) {
    ctx.lineWidth = devicePixelRatio || 1;
    ctx.beginPath();
    [[x, high, x, low], [x - cap, high, x + cap, high], [x - cap, low, x + cap, low]].forEach(function (l) {
      ctx.moveTo(l[0], l[1]);
      ctx.lineTo(l[2], l[3]);
    });
    ctx.stroke();
  }
  function mark(ctx, of, x, y, size) {
    var path = new Path2D(of[0]), colour = ctx.fillStyle;
    ctx.save();
    ctx.translate(x, y);
    ctx.scale(size, size);
    if (!of[1]) { ctx.fillStyle = css("--card"); }
    ctx.fill(path);
    ctx.fillStyle = colour;
    ctx.lineWidth = 0.4;
    ctx.stroke(path);
    ctx.restore();
  }

  // sample is a piece of a line for the legend.
  function sample(style) {
    function element(name, attributes) {
      var e = document.createElementNS("http://www.w3.org/2000/svg", name);
      Object.keys(attributes).forEach(function (a) { e.setAttribute(a, attributes[a]); });
      return e;
    }
    var svg = element("svg", { width: 40, height: 12, viewBox: "0 0 40 12", "aria-hidden": "true", "class": "sample" });
    svg.append(element("path", { d: "M0,6H40", stroke: style.colour, "stroke-width": 1.8, "stroke-dasharray": style.dash.join(" ") || "none" }),
      element("path", { d: style.mark[0], transform: "translate(20,6) scale(" + markSize + ")", stroke: style.colour, "stroke-width": 0.4,
        fill: style.mark[1] ? style.colour : css("--card") }));
    return svg;
  }

  // withBars is the range of the values with their bars, while nothing is enlarged.
  function withBars(all) {
    var low = Infinity, high = -Infinity;
    all.forEach(function (s) {
      s.y.forEach(function (v, i) { low = Math.min(low, v - 2 * s.u[i]); high = Math.max(high, v + 2 * s.u[i]); });
    });
    var room = (high - low) * 0.05 || 0.1;
    return [low - room, high + room];
  }

  // wider is a range with room for marks at its ends.
  function wider(low, high) {
    var room = (high - low) * 0.02 || 1;
    return [low - room, high + room];
  }

  function draw(figure, rows) {
    var x = figure.dataset.x, y = figure.dataset.y, points = figure.dataset.kind === "rows";
    var all = points ? lines(rows, x, y) : rows.length ? curves(rows, x, y) : [];
    var canvas = figure.querySelector(".canvas");
    canvas.textContent = "";
    if (!all.length) { canvas.textContent = "There is nothing to draw."; return null; }
    var styles = all.map(function (_, i) { return styleOf(i); }), titles = labels(rows, x, y, points);
    var ink = css("--ink"), line = css("--line"), font = "13px system-ui, sans-serif";
    function axis(label, size) {
      return { label: label, stroke: ink, grid: { stroke: line, width: 1 }, ticks: { stroke: line }, font: font,
        labelFont: font, size: size };
    }
    function said(_, v) { return v === null || v === undefined ? "" : v.toPrecision(4); }
    var plot = new uPlot({
      width: Math.max(canvas.clientWidth, 240), height: points ? 260 : 380,
      scales: { x: points ? { time: false, range: function (u, low, high) { return u.zoomed ? [low, high] : wider(low, high); } } : { time: false },
        y: points ? { range: function (u, low, high) { return u.zoomed ? [low, high] : withBars(all); } } : {} },
      axes: [axis(titles[0], 46), axis(titles[1], 64)],
      series: [{ label: points ? x : "nm", value: function (_, v) { return v === null ? "" : String(v); } }].concat(all.map(function (s, i) {
        return { label: s.label, stroke: styles[i].colour, width: 1.6, spanGaps: true, dash: styles[i].dash, points: { show: false },
          value: said };
      })),
      hooks: { draw: [over(all, styles)], setSelect: [function (u) { u.zoomed = true; }] },
      cursor: { drag: { x: true, y: true, uni: 20 }, focus: { prox: 24 },
        bind: { dblclick: function (u, _, done) { return function (e) { u.zoomed = false; return done(e); }; } } },
      focus: { alpha: 0.35 },
      legend: { live: true, markers: { show: false } }
    }, uPlot.join(all.map(function (s) { return [s.x, s.y]; })), canvas);
    canvas.querySelectorAll(".u-series").forEach(function (entry, i) {
      if (i > 0) { entry.querySelector("th").prepend(sample(styles[i - 1])); }
    });
    return plot;
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
    // On paper a figure is light and as wide as a page.
    var theme = null;
    addEventListener("beforeprint", function () {
      theme = document.documentElement.dataset.theme || "";
      document.documentElement.dataset.theme = "light";
      again();
      if (plot) { plot.setSize({ width: Math.min(wide || 660, 660), height: plot.height }); }
    });
    addEventListener("afterprint", function () {
      if (theme) { document.documentElement.dataset.theme = theme; } else { delete document.documentElement.dataset.theme; }
      again();
    });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  });
})();
