// Draws the panes from the numbers in #numbers and keeps their time axes together.
// Time is in microseconds from the moment; names, labels and thresholds' texts stand in the legends.
(function () {
  "use strict";

  const root = document.documentElement;
  const data = JSON.parse(document.getElementById("numbers").textContent);
  const rows = data.time.length;
  const time = new Float64Array(rows);
  let nanoseconds = 0;
  data.time.forEach((step, row) => (time[row] = (nanoseconds += step) / 1000));
  const first = time[0], last = Math.max(time[rows - 1], first + 0.001);
  const closest = Math.min(0.05, last - first);
  const color = (name) => getComputedStyle(root).getPropertyValue("--" + name).trim();

  function unpack(signal) {
    const values = new Float64Array(rows), steps = signal.steps;
    let sum = 0, row = 0;
    for (let i = 0; i < steps.length; ++i) {
      let count = 1;
      if (steps[i] === 0) count = steps[++i];
      else sum += steps[i];
      for (; count > 0; --count) values[row++] = sum / signal.scale;
    }
    return values;
  }
  const signals = data.signals.map((s) => ({values: unpack(s), step: 1 / s.scale, digits: Math.max(0, Math.round(Math.log10(s.scale)))}));

  // The first of `count` sorted times that is not before t.
  function from(t, at, count) {
    let low = 0, high = count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (at(middle) < t) low = middle + 1;
      else high = middle;
    }
    return low;
  }
  const rowFrom = (t) => from(t, (i) => time[i], rows);
  const markFrom = (t) => from(t * 1000, (i) => data.marks[i][0], data.marks.length);
  const rowBefore = (t) => Math.max(0, time[Math.min(rowFrom(t), rows - 1)] <= t ? Math.min(rowFrom(t), rows - 1) : rowFrom(t) - 1);

  function valueAt(signal, t) {
    const row = rowBefore(t), next = Math.min(row + 1, rows - 1), {values} = signals[signal];
    const span = time[next] - time[row];
    const share = span > 0 ? Math.min(1, Math.max(0, (t - time[row]) / span)) : 0;
    return values[row] + share * (values[next] - values[row]);
  }

  // Texts. What rounds to nothing has no sign.
  const fixed = (value, digits) => value.toFixed(digits).replace(/^-(?=[0.]*$)/, "");
  const told = (signal, value) => fixed(value, Math.min(signals[signal].digits, 9)).replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, "");
  function offset(t) {
    const ns = Math.round(Math.abs(t) * 1000);
    if (ns === 0) return "0 s";
    const [size, digits, unit] = ns >= 1e9 ? [1e9, 9, "s"] : ns >= 1e6 ? [1e6, 6, "ms"] : [1e3, 3, "\u00b5s"];
    const part = String(ns % size).padStart(digits, "0").replace(/0+$/, "");
    return (t < 0 ? "-" : "+") + Math.floor(ns / size) + (part ? "." + part : "") + " " + unit;
  }

  // Round steps of 1, 2 or 5: the step, and its multiples between two values.
  function round(low, high, most) {
    const rough = (high - low) / Math.max(1, most), power = Math.pow(10, Math.floor(Math.log10(rough)));
    const step = [1, 2, 5, 10].map((n) => n * power).find((s) => s >= rough * 0.999);
    const all = [];
    for (let n = Math.ceil(low / step - 1e-9); n * step <= high + step * 1e-9; ++n) all.push(n * step);
    return {step, all};
  }
  const decimals = (step) => Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  function timeTicks(low, high, pixels, room = 105) {
    const {step, all} = round(low, high, pixels / room);
    const [size, unit] = step >= 1e5 ? [1e6, "s"] : step >= 100 ? [1e3, "ms"] : [1, "\u00b5s"];
    const ticks = all.map((v) => ({v, label: Math.abs(v) < step / 2 ? "0" : fixed(v / size, decimals(step / size)) + " " + unit}));
    const wide = ticks.some((tick) => tick.label.length > 11);
    return wide && room < 150 ? timeTicks(low, high, pixels, 150) : ticks;
  }
  function valueTicks(low, high, pixels) {
    const {step, all} = round(low, high, pixels / 34);
    return all.map((v) => ({v, label: fixed(v, decimals(step))}));
  }

  const labels = 14;  // pixels at the top of a pane of lines
  const window_ = {from: first, to: last};
  let cursor = 0;
  const panes = [];

  // Events: a line each, their numbers on top; those close together share a label.
  function marks(pen, area, chart) {
    pen.save();
    pen.beginPath();
    pen.rect(area.x, area.y, area.w, area.h);
    pen.clip();
    pen.strokeStyle = pen.fillStyle = color("ink");
    pen.lineWidth = 1.5;
    const zero = chart.toDomXCoord(0);
    pen.beginPath();
    pen.moveTo(zero, area.y + (chart.lanes ? 0 : labels));
    pen.lineTo(zero, area.y + area.h);
    pen.stroke();
    pen.strokeStyle = pen.fillStyle = color("no");
    pen.lineWidth = 1;
    pen.setLineDash([3, 3]);
    pen.font = "11px sans-serif";
    const groups = [];
    for (let i = markFrom(window_.from); i < data.marks.length && data.marks[i][0] <= window_.to * 1000; ++i) {
      const x = Math.round(chart.toDomXCoord(data.marks[i][0] / 1000)) + 0.5;
      const group = groups[groups.length - 1];
      if (!group || x !== group.right) {
        pen.beginPath();
        pen.moveTo(x, area.y + (chart.lanes ? 0 : labels));
        pen.lineTo(x, area.y + area.h);
        pen.stroke();
      }
      if (group && x - group.right < 34) Object.assign(group, {last: i, right: x});
      else groups.push({first: i, last: i, left: x, right: x});
    }
    pen.textAlign = "center";
    if (!chart.lanes) {
      groups.forEach((g) => {
        const label = g.first + 1 + (g.last > g.first ? "\u2013" + (g.last + 1) : "");
        const half = pen.measureText(label).width / 2 + 3;
        const middle = Math.min(Math.max((g.left + g.right) / 2, area.x + half), area.x + area.w - half);
        pen.fillStyle = color("raised");
        pen.fillRect(middle - half, area.y, 2 * half, labels);
        pen.fillStyle = color("no");
        pen.fillText(label, middle, area.y + 11);
      });
    }
    pen.restore();
  }

  function clipped(pen, area, draw) {
    pen.save();
    pen.beginPath();
    pen.rect(area.x, area.y, area.w, area.h);
    pen.clip();
    draw();
    pen.restore();
  }

  // The stretches over which a lane holds: their first rows, and how many there are.
  function stretches(signal) {
    const starts = [0], {values} = signals[signal];
    for (let row = 1; row < rows; ++row) if (values[row] !== values[row - 1]) starts.push(row);
    return starts;
  }

  function drawLevel(pen, x, end, top, bottom, high) {
    if (high) {
      pen.fillStyle = color("high");
      pen.globalAlpha = 0.3;
      pen.fillRect(x, top, end - x, bottom - top);
      pen.globalAlpha = 1;
      pen.fillRect(x, top, end - x, 2);
      pen.fillRect(x, top, 1, bottom - top);
      pen.fillRect(end - 1, top, 1, bottom - top);
    } else {
      pen.fillStyle = color("high");
      pen.fillRect(x, bottom - 2, end - x, 2);
    }
  }
  function drawRegime(pen, x, end, top, bottom, value, label) {
    pen.fillStyle = color("band-" + (value % 8));
    pen.fillRect(x, top, end - x, bottom - top);
    pen.fillStyle = color("faint");
    pen.fillRect(x, top, 1, bottom - top);
    if (end - x < 14) return;
    pen.fillStyle = color("ink");
    const room = end - x - 8;
    let text = label;
    while (text && pen.measureText(text).width > room) text = text.slice(0, -1);
    if (text.length > 1 || text === label) pen.fillText(text, x + 5, (top + bottom) / 2);
  }
  function drawLanes(pane, pen, area, chart) {
    const height = area.h / pane.lanes.length;
    pen.font = "12px sans-serif";
    pen.textBaseline = "middle";
    pane.lanes.forEach((lane, n) => {
      const top = area.y + n * height + 3, bottom = area.y + (n + 1) * height - 3;
      const {values} = signals[lane.signal];
      let begin = Math.max(0, from(window_.from, (i) => time[lane.starts[i]], lane.starts.length) - 1);
      for (; begin < lane.starts.length && time[lane.starts[begin]] <= window_.to; ++begin) {
        const until = begin + 1 < lane.starts.length ? time[lane.starts[begin + 1]] : last;
        const x = Math.max(area.x, chart.toDomXCoord(time[lane.starts[begin]]));
        const end = Math.max(x + 1, Math.min(area.x + area.w, chart.toDomXCoord(until)));
        const value = values[lane.starts[begin]];
        if (lane.labels.length) drawRegime(pen, x, end, top, bottom, value, lane.labels[value]);
        else drawLevel(pen, x, end, top, bottom, value === 1);
      }
    });
  }

  // Each event in its part's lane, with its name where there is room before the next one of that lane.
  function drawMarks(pane, pen, area, chart) {
    const height = area.h / pane.lanes.length;
    pen.font = "12px sans-serif";
    pen.textBaseline = "middle";
    const places = pane.lanes.map(() => []);
    for (let i = markFrom(window_.from); i < data.marks.length && data.marks[i][0] <= window_.to * 1000; ++i) {
      const [ns, lane, event] = data.marks[i], x = Math.round(chart.toDomXCoord(ns / 1000));
      const text = i + 1 + " " + pane.lanes[lane].events[event], before = places[lane][places[lane].length - 1];
      if (before && before.x === x) before.texts.push(text);
      else places[lane].push({x, texts: [text]});
    }
    places.forEach((lane, n) => lane.forEach(({x, texts}, i) => {
      const middle = area.y + (n + 0.5) * height, end = i + 1 < lane.length ? lane[i + 1].x : area.x + area.w;
      pen.fillStyle = color("no");
      pen.fillRect(x - 1, middle - height / 2 + 3, 3, height - 6);
      const room = end - x - 10;
      if (room < 10 || texts.length > 8) return;
      const text = texts.join(", "), width = pen.measureText(text).width;
      if (width > room) return;
      pen.fillStyle = color("raised");
      pen.fillRect(x + 3, middle - 8, width + 4, 16);
      pen.fillStyle = color("ink");
      pen.fillText(text, x + 6, middle);
    }));
  }

  function drawThresholds(pane, pen, area, chart) {
    pen.font = "11px sans-serif";
    pen.textAlign = "right";
    pen.setLineDash([8, 4]);
    pane.lines.forEach((line) => {
      if (!line.box.checked) return;
      line.thresholds.forEach((t) => {
        const y = Math.round(chart.toDomYCoord(t.value)) + 0.5;
        if (y < area.y || y > area.y + area.h) return;
        pen.strokeStyle = pen.fillStyle = color("c" + line.color);
        pen.beginPath();
        pen.moveTo(area.x, y);
        pen.lineTo(area.x + area.w, y);
        pen.stroke();
        pen.fillText(line.name + " " + t.label, area.x + area.w - 6, y - area.y > 30 ? y - 4 : y + 12);
      });
    });
  }

  const strokes = [null, [7, 4], [2, 3]];
  const most = 3000;

  // The rows that are drawn. Of many only those that bound what each line does within a pixel or so.
  function drawn(pane) {
    const begin = rowBefore(window_.from), end = Math.min(rows - 1, rowFrom(window_.to));
    const shown = pane.lines.filter((line) => line.box.checked).map((line) => signals[line.signal].values);
    const chosen = [];
    if (end - begin < most) {
      for (let row = begin; row <= end; ++row) chosen.push(row);
    } else {
      const width = (window_.to - window_.from) / 1200;
      for (let row = begin; row <= end;) {
        const until = Math.max(time[row], window_.from) + width;
        let next = row + 1;
        const picked = new Set([row]);
        while (next <= end && time[next] < until) ++next;
        picked.add(next - 1);
        shown.forEach((values) => {
          let low = row, high = row;
          for (let i = row; i < next; ++i) {
            if (values[i] < values[low]) low = i;
            if (values[i] > values[high]) high = i;
          }
          picked.add(low).add(high);
        });
        chosen.push(...Array.from(picked).sort((a, b) => a - b));
        row = next;
      }
    }
    return chosen.map((row) => [time[row]].concat(pane.lines.map((line) => signals[line.signal].values[row])));
  }

  // Fits what is shown, and the thresholds near it.
  function scale(pane) {
    let low = Infinity, high = -Infinity;
    const see = (v) => ((low = Math.min(low, v)), (high = Math.max(high, v)));
    const shown = pane.lines.filter((line) => line.box.checked);
    const begin = rowFrom(window_.from), end = rowBefore(window_.to);
    shown.forEach((line) => {
      see(valueAt(line.signal, window_.from));
      see(valueAt(line.signal, window_.to));
      const {values} = signals[line.signal];
      for (let row = begin; row <= end; ++row) see(values[row]);
    });
    if (!shown.length) return [0, 1];
    const reach = (high - low) / 2;
    const [least, largest] = [low - reach, high + reach];
    shown.forEach((line) => line.thresholds.forEach((t) => t.value >= least && t.value <= largest && see(t.value)));
    const finest = Math.max(...shown.map((line) => signals[line.signal].step));
    const flat = high - low < 5 * finest;
    const pad = flat ? Math.max(Math.abs(high) * 0.05, 5 * finest) : (high - low) * 0.07;
    return [low - pad, high + pad * 2.2];
  }

  function looks(pane) {
    const series = {};
    (pane.lines || []).forEach((line, i) => (series["s" + i] = {color: color("c" + line.color), strokePattern: strokes[line.stroke]}));
    return {series, gridLineColor: color("rule"), axisLineColor: color("faint")};
  }

  function put(pane) {
    const options = {dateWindow: [window_.from, window_.to]};
    if (pane.lines) {
      options.file = drawn(pane);
      options.valueRange = scale(pane);
      options.visibility = pane.lines.map((line) => line.box.checked);
    }
    pane.chart.updateOptions(options);
    place(pane);
  }

  function place(pane) {
    const area = pane.chart.getArea(), x = pane.chart.toDomXCoord(cursor);
    const within = x >= area.x && x <= area.x + area.w, top = area.y + (pane.lines ? labels : 0);
    Object.assign(pane.cursor.style, {display: within ? "block" : "none", left: x + "px", top: top + "px", height: area.y + area.h - top + "px"});
  }

  function show(begin, end) {
    const width = Math.min(Math.max(end - begin, closest), last - first);
    window_.from = Math.min(Math.max((begin + end) / 2 - width / 2, first), last - width);
    window_.to = window_.from + width;
    panes.forEach(put);
    document.getElementById("shown").textContent = "Shown: " + offset(window_.from) + " to " + offset(window_.to);
  }

  function read(t) {
    cursor = Math.round(Math.min(Math.max(t, first), last) * 1000) / 1000;
    document.getElementById("cursor-at").textContent = "Values at " + offset(cursor);
    panes.forEach((pane) => {
      const texts = [];
      (pane.lines || []).forEach((line) => {
        const text = told(line.signal, valueAt(line.signal, cursor));
        line.value.textContent = text + line.unit;
        if (line.box.checked) texts.push(line.name + " " + text + line.unit);
      });
      if (pane.lanes) {
        pane.lanes.forEach((lane) => {
          if (lane.events) return;
          const value = signals[lane.signal].values[rowBefore(cursor)];
          lane.value.textContent = lane.labels.length ? lane.labels[value] : String(value);
          texts.push(lane.name + " " + lane.value.textContent);
        });
      }
      pane.plot.setAttribute("aria-valuenow", String(cursor));
      pane.plot.setAttribute("aria-valuetext", offset(cursor) + (texts.length ? ": " + texts.join(", ") : ""));
      place(pane);
    });
  }

  /// Moves the window as little as shows the cursor.
  function follow() {
    const edge = (window_.to - window_.from) * 0.05;
    if (cursor < window_.from) show(cursor - edge, cursor - edge + window_.to - window_.from);
    else if (cursor > window_.to) show(cursor + edge - (window_.to - window_.from), cursor + edge);
  }

  const wide = () => window_.to - window_.from;
  const move = (share) => show(window_.from + share * wide(), window_.to + share * wide());
  const around = (factor) => {
    const pivot = cursor >= window_.from && cursor <= window_.to ? cursor : (window_.from + window_.to) / 2;
    show(pivot - (pivot - window_.from) * factor, pivot + (window_.to - pivot) * factor);
  };
  const toMark = (i) => {
    if (i < 0 || i >= data.marks.length) return;
    read(data.marks[i][0] / 1000);
    follow();
  };
  const deeds = {
    closer: () => around(0.5),
    wider: () => around(2),
    earlier: () => move(-0.5),
    later: () => move(0.5),
    whole: () => show(first, last),
    before: () => toMark(markFrom(cursor) - 1),
    next: () => toMark(markFrom(cursor + 0.001)),
  };

  function stepRow(by) {
    const row = rowBefore(cursor);
    read(time[by < 0 && time[row] < cursor ? row : Math.min(Math.max(row + by, 0), rows - 1)]);
    follow();
  }
  const keys = {
    ArrowLeft: (e) => (e.shiftKey ? move(-0.1) : stepRow(-1)),
    ArrowRight: (e) => (e.shiftKey ? move(0.1) : stepRow(1)),
    Home: () => (read(first), follow()),
    End: () => (read(last), follow()),
    "+": deeds.closer,
    "=": deeds.closer,
    "-": deeds.wider,
    Escape: deeds.whole,
  };

  function listen(pane) {
    let begun = null;
    const at = (e) => {
      const area = pane.chart.getArea(), x = e.clientX - pane.plot.getBoundingClientRect().left;
      return pane.chart.toDataXCoord(Math.min(Math.max(x, area.x), area.x + area.w));
    };
    const pick = (low, high) => panes.forEach((other) => {
      const area = other.chart.getArea(), left = other.chart.toDomXCoord(low);
      Object.assign(other.pick.style, {display: high > low ? "block" : "none", left: left + "px", top: area.y + "px",
        width: other.chart.toDomXCoord(high) - left + "px", height: area.h + "px"});
    });
    pane.plot.addEventListener("pointerdown", (e) => {
      if (e.button !== 0) return;
      begun = {x: e.clientX, t: at(e), moves: e.shiftKey, from: window_.from, to: window_.to};
      pane.plot.setPointerCapture(e.pointerId);
    });
    pane.plot.addEventListener("pointermove", (e) => {
      if (!begun) return read(at(e));
      if (begun.moves) {
        const by = (begun.x - e.clientX) / pane.chart.getArea().w * (begun.to - begun.from);
        show(begun.from + by, begun.to + by);
      } else {
        pick(Math.min(begun.t, at(e)), Math.max(begun.t, at(e)));
      }
    });
    const end = (e) => {
      if (!begun) return;
      const {x, t, moves} = begun, to = at(e);
      begun = null;
      pick(0, 0);
      if (e.type === "pointercancel" || moves) return;
      if (Math.abs(e.clientX - x) > 4) show(Math.min(t, to), Math.max(t, to));
      else read(to);
    };
    pane.plot.addEventListener("pointerup", end);
    pane.plot.addEventListener("pointercancel", end);
    pane.plot.addEventListener("dblclick", deeds.whole);
    pane.plot.addEventListener("keydown", (e) => {
      const deed = keys[e.key];
      if (!deed || e.ctrlKey || e.altKey || e.metaKey) return;
      e.preventDefault();
      deed(e);
    });
  }

  const split = (text) => (text ? text.split("|") : []);
  const textOf = (item, name) => item.querySelector("." + name).textContent;

  function legendOf(figure) {
    const items = Array.from(figure.querySelectorAll(".legend li"));
    if (figure.classList.contains("marks")) {
      return {lanes: items.map((item) => ({name: textOf(item, "name"), events: split(item.dataset.events)})), draw: drawMarks};
    }
    if (figure.classList.contains("lanes")) {
      const lanes = items.filter((item) => item.dataset.signal).map((item) => {
        const signal = Number(item.dataset.signal);
        return {signal, name: textOf(item, "name"), value: item.querySelector(".value"), labels: split(item.dataset.labels),
          starts: stretches(signal)};
      });
      return {lanes, draw: drawLanes};
    }
    const lines = items.map((item) => {
      const shown = textOf(item, "value"), blank = shown.indexOf(" ");
      return {
        signal: Number(item.dataset.signal), name: textOf(item, "name"), value: item.querySelector(".value"),
        unit: blank < 0 ? "" : shown.slice(blank), color: item.dataset.color, stroke: Number(item.dataset.stroke),
        box: item.querySelector("input"),
        thresholds: Array.from(item.querySelectorAll("[data-threshold]")).map((t) => ({
          value: data.thresholds[Number(t.dataset.threshold)][1], label: textOf(t, "name")})),
      };
    });
    return {lines, draw: drawThresholds};
  }

  function overlay(plot, name) {
    const element = document.createElement("div");
    element.className = name;
    plot.appendChild(element);
    return element;
  }

  const lane = 28, axis = 24;
  root.classList.add("charted");
  document.querySelectorAll(".pane").forEach((figure) => {
    const plot = figure.querySelector(".plot");
    const pane = Object.assign({figure, plot}, legendOf(figure));
    const count = pane.lines ? pane.lines.length : 1;
    if (pane.lanes) plot.style.height = pane.lanes.length * lane + axis + "px";
    else plot.style.height = Math.max(150, figure.querySelector(".legend > ul").offsetHeight + axis) + "px";
    pane.chart = new Dygraph(plot, pane.lines ? drawn(pane) : [[first, null], [last, null]], Object.assign({
      labels: ["time"].concat(Array.from({length: count}, (_, i) => "s" + i)),
      legend: "never",
      showLabelsOnHighlight: false,
      highlightCircleSize: 0,
      interactionModel: {},
      strokeWidth: 1.6,
      dateWindow: [first, last],
      valueRange: pane.lines ? scale(pane) : [0, 1],
      xRangePad: 0,
      axes: {
        x: {ticker: (low, high, pixels) => timeTicks(low, high, pixels), axisLabelWidth: 145},
        y: {ticker: (low, high, pixels) => (pane.lines ? valueTicks(low, high, pixels) : []), axisLabelWidth: 74,
          drawGrid: Boolean(pane.lines)},
      },
      underlayCallback: (pen, area, chart) => {
        chart.lanes = Boolean(pane.lanes);
        marks(pen, area, chart);
        clipped(pen, area, () => pane.draw(pane, pen, area, chart));
      },
    }, looks(pane)));
    pane.cursor = overlay(plot, "cursor");
    pane.pick = overlay(plot, "pick");
    for (const [name, value] of Object.entries({tabindex: "0", role: "slider", "aria-valuemin": String(first), "aria-valuemax": String(last)})) {
      plot.setAttribute(name, value);
    }
    (pane.lines || []).forEach((line) => line.box.addEventListener("change", () => (put(pane), read(cursor))));
    panes.push(pane);
    listen(pane);
  });

  document.querySelectorAll("[data-do]").forEach((button) => button.addEventListener("click", () => deeds[button.dataset.do]()));
  document.querySelectorAll(".go").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => {
      const t = Number(button.dataset.at) / 1000, half = Math.min(wide(), (last - first) / 20) / 2;
      read(t);
      show(t - half, t + half);
      document.getElementById("courses").scrollIntoView();
      document.querySelector("[data-do]").focus({preventScroll: true});
    });
  });
  document.querySelector(".controls").hidden = false;
  show(first, last);
  read(0);

  const repaint = () => panes.forEach((pane) => pane.chart.updateOptions(looks(pane)));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", repaint);
  addEventListener("resize", () => requestAnimationFrame(() => panes.forEach(place)));

  // Paper is light. The panes keep their size: a canvas resized at this moment prints blank in Chromium.
  const print = (on) => () => {
    root.classList.toggle("printing", on);
    repaint();
  };
  addEventListener("beforeprint", print(true));
  addEventListener("afterprint", print(false));
})();
