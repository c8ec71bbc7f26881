// Draws the charts from the numbers in #series and keeps their time axes together.
// Instants are on the site's standard time throughout, so UTC getters and labels tell the site's clock.
(function () {
  "use strict";

  const second = 1000, minute = 60 * second, hour = 60 * minute, day = 24 * hour;
  const closest = minute;
  const root = document.documentElement;
  const data = JSON.parse(document.getElementById("series").textContent);

  function unpack(column) {
    let sum = 0;
    return column.steps.map((step) => (step === null ? null : (sum += step) / column.scale));
  }

  let now = data.start;
  const times = data.time.map((step) => (now += Math.round(step * second)));
  const days = data.days.wakes;
  const first = times.length ? times[0] : data.days.first;
  const last = times.length ? times[times.length - 1] : data.days.first + days.length * day;
  const whole = [first, Math.max(last, first + closest)];

  const two = (n) => String(n).padStart(2, "0");
  const date = (t) => new Date(t).toISOString().slice(0, 10);
  const clock = (t) => new Date(t).toISOString().slice(11, 16);
  const minutes = (t) => date(t) + " " + clock(t);

  function tick(value) {
    const t = +value;
    if (t % day === 0) return date(t);
    if (t % minute === 0) return clock(t);
    return clock(t) + ":" + two(new Date(t).getUTCSeconds());
  }

  // Brown-outs: a dashed line with a triangle at its top and its number; those close together share a label.
  function marks(pen, area, chart) {
    pen.save();
    pen.strokeStyle = pen.fillStyle = color("no");
    pen.font = "12px sans-serif";
    pen.setLineDash([4, 3]);
    const room = 64;
    const groups = [];
    data.brownouts.forEach((t, i) => {
      const x = chart.toDomXCoord(t), y = area.y;
      if (x < area.x || x > area.x + area.w) return;
      pen.beginPath();
      pen.moveTo(x, y + 12);
      pen.lineTo(x, y + area.h);
      pen.stroke();
      pen.beginPath();
      pen.moveTo(x - 6, y + 1);
      pen.lineTo(x + 6, y + 1);
      pen.lineTo(x, y + 12);
      pen.fill();
      const group = groups[groups.length - 1];
      if (group && x - group.right < room) Object.assign(group, {last: i, right: x});
      else groups.push({first: i, last: i, left: x, right: x});
    });
    groups.forEach((g) => {
      const label = "B" + (g.first + 1) + (g.last > g.first ? "\u2013B" + (g.last + 1) : "");
      const fits = g.right + 9 + pen.measureText(label).width < area.x + area.w;
      pen.textAlign = fits ? "left" : "right";
      pen.fillText(label, fits ? g.right + 8 : g.left - 8, area.y + 12);
    });
    pen.restore();
  }

  function bars(e) {
    const pen = e.drawingContext, chart = e.dygraph;
    const foot = chart.toDomYCoord(0);
    const width = Math.max(1, 0.8 * (chart.toDomXCoord(day) - chart.toDomXCoord(0)));
    pen.fillStyle = e.color;
    e.points.forEach((p) => {
      if (!isNaN(p.canvasy)) pen.fillRect(p.canvasx - width / 2, p.canvasy, width, foot - p.canvasy);
    });
  }

  const color = (name) => getComputedStyle(root).getPropertyValue("--" + name).trim();

  // Each series: its column, its name in the reading, unit and digits.
  const plans = [
    {id: "voltage", series: [{column: "voltage", name: "cell", unit: "V", digits: 3}]},
    {id: "charge", series: [{column: "charge", name: "charge", unit: "%", digits: 1}]},
    {id: "light", series: [{column: "light", name: "light", unit: "W/m²", digits: 0}], options: {includeZero: true}},
    {
      id: "temperature",
      series: [
        {column: "cell", name: "cell", unit: "°C", digits: 1},
        {column: "air", name: "air", unit: "°C", digits: 1, dash: [6, 4]},
      ],
    },
    {id: "wakes", series: [{column: "wakes", name: "wakes", unit: "", digits: 0}], daily: true},
  ];

  function rows(plan) {
    if (plan.daily) {
      const noon = days.map((n, i) => [data.days.first + (i + 0.5) * day, n]);
      return [[whole[0], null]].concat(noon.filter((r) => r[0] > whole[0] && r[0] < whole[1]), [[whole[1], null]]);
    }
    const columns = plan.series.map((s) => unpack(data.columns[s.column]));
    return times.map((t, i) => [t].concat(columns.map((c) => c[i])));
  }

  /// What rounds to nothing has no sign.
  const fixed = (value, digits) => value.toFixed(digits).replace(/^-(?=[0.]*$)/, "");

  function reading(plan, legend) {
    if (legend.x === undefined) return "&nbsp;";
    const told = legend.series.map((s, i) => (s.y === undefined || s.y === null || isNaN(s.y) ? "" :
        s.labelHTML + " " + fixed(s.y, plan.series[i].digits) + " " + plan.series[i].unit));
    return (plan.daily ? date(legend.x) : minutes(legend.x)) + ": " + told.filter(Boolean).join(", ");
  }

  function looks(plan) {
    const series = {};
    plan.series.forEach((s) => (series[s.name] = {color: color(s.column), strokePattern: s.dash || null}));
    return {series: series, gridLineColor: color("rule"), axisLineColor: color("faint")};
  }

  const charts = [];
  let busy = false;

  // Shows the same stretch of time everywhere; each value axis fits what is shown.
  function show(from, to) {
    const width = Math.min(Math.max(to - from, closest), whole[1] - whole[0]);
    const middle = (from + to) / 2;
    const begin = Math.min(Math.max(middle - width / 2, whole[0]), whole[1] - width);
    busy = true;
    charts.forEach((chart) => chart.updateOptions({dateWindow: [begin, begin + width]}));
    busy = false;
    document.getElementById("shown").textContent = "Shown: " + minutes(begin) + " to " + minutes(begin + width);
  }

  function select(chart, x) {
    charts.forEach((other) => {
      if (other === chart) return;
      let low = 0, high = other.numRows() - 1;
      while (low < high) {
        const middle = (low + high) >> 1;
        if (other.getValue(middle, 0) < x) low = middle + 1;
        else high = middle;
      }
      if (low > 0 && x - other.getValue(low - 1, 0) < other.getValue(low, 0) - x) --low;
      other.setSelection(low);
    });
  }

  root.classList.add("charted");
  plans.forEach((plan) => {
    const place = document.getElementById(plan.id + "-plot");
    if (!place) return;
    plan.series = plan.series.filter((s) => plan.daily || data.columns[s.column]);
    const most = Math.max(1, ...days);
    const chart = new Dygraph(place, rows(plan), Object.assign({
      labels: ["time"].concat(plan.series.map((s) => s.name)),
      labelsUTC: true,
      labelsDiv: document.getElementById(plan.id + "-reading"),
      legend: "always",
      legendFormatter: (legend) => reading(plan, legend),
      dateWindow: whole.slice(),
      strokeWidth: 1.4,
      axes: {
        x: {ticker: Dygraph.dateTicker, axisLabelFormatter: tick, pixelsPerLabel: 90, axisLabelWidth: 84},
        y: {axisLabelWidth: 46},
      },
      yRangePad: 16,
      underlayCallback: marks,
      drawCallback: (me, initial) => {
        if (!initial && !busy) show(...me.xAxisRange());
      },
      highlightCallback: (event, x) => select(chart, x),
      unhighlightCallback: () => charts.forEach((other) => other.clearSelection()),
    }, plan.daily ? {plotter: bars, valueRange: [0, most * 1.25], yRangePad: 0} : {}, plan.options, looks(plan)));
    charts.push(chart);
  });
  if (!charts.length) return;

  const part = (share) => {
    const [from, to] = charts[0].xAxisRange();
    return share * (to - from);
  };
  const deeds = {
    closer: (from, to) => show(from + part(0.25), to - part(0.25)),
    wider: (from, to) => show(from - part(0.5), to + part(0.5)),
    earlier: (from, to) => show(from - part(0.5), to - part(0.5)),
    later: (from, to) => show(from + part(0.5), to + part(0.5)),
    whole: () => show(...whole),
  };
  document.querySelectorAll("[data-do]").forEach((button) => {
    button.addEventListener("click", () => deeds[button.dataset.do](...charts[0].xAxisRange()));
  });
  document.querySelectorAll(".go").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => {
      const at = Number(button.dataset.at);
      show(at - day, at + day);
      document.getElementById("charts").scrollIntoView();
      document.querySelector("[data-do]").focus({preventScroll: true});
    });
  });
  document.querySelector(".controls").hidden = false;
  show(...whole);

  const drawn = plans.filter((plan) => document.getElementById(plan.id + "-plot"));
  const repaint = () => charts.forEach((chart, i) => chart.updateOptions(looks(drawn[i])));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", repaint);

  // Paper is light. The charts keep their size: a canvas resized at this moment prints blank in Chromium.
  const print = (on) => () => {
    root.classList.toggle("printing", on);
    repaint();
  };
  addEventListener("beforeprint", print(true));
  addEventListener("afterprint", print(false));
})();
