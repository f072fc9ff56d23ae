// Plates: temperature and shape at a frame, and the curves against time.
const SHADES = 40, CHART = 300;

function bytes(text) {
  return Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
}

/** Temperatures (page's unit) at the grid of a frame, kept once decoded. */
function temperatures(heating, frame) {
  heating.seen ??= {};
  heating.seen[frame] ??= Float32Array.from(bytes(heating.grid[frame]),
    (b) => STATES.units.byte[0] + STATES.units.byte[1] * b);
  return heating.seen[frame];
}

/** Displacements (mm) at every second grid place of a frame: [ux, uy, ux, uy, ...]. */
function displacements(track, place) {
  track.seen ??= {};
  track.seen[place] ??= Float32Array.from(
    new Int16Array(bytes(track.u[place]).buffer), (v) => v * track.unit);
  return track.seen[place];
}

/** Values (columns x rows, of k numbers each) with their means put in between. */
function between(values, columns, rows, k) {
  const wide = 2 * columns - 1, tall = 2 * rows - 1, out = new Float32Array(wide * tall * k);
  for (let i = 0; i < wide; i += 1) {
    for (let j = 0; j < tall; j += 1) {
      const a = (i >> 1) * rows + (j >> 1), b = a + (i & 1) * rows;
      for (let n = 0; n < k; n += 1) {
        out[(i * tall + j) * k + n] = 0.25 * (values[a * k + n] + values[b * k + n]
          + values[(a + (j & 1)) * k + n] + values[(b + (j & 1)) * k + n]);
      }
    }
  }
  return out;
}

/** The plate's temperature in patches of one colour each; places [x, y, x, y, ...] px. */
function patches(svg, columns, rows, T, places) {
  const groups = new Map();
  const low = STATES.ramp[0].at, high = STATES.ramp.at(-1).at;
  for (let i = 0; i + 1 < columns; i += 1) {
    for (let j = 0; j + 1 < rows; j += 1) {
      const at = i * rows + j;
      const mean = 0.25 * (T[at] + T[at + 1] + T[at + rows] + T[at + rows + 1]);
      const shade = Math.round(((mean - low) / (high - low)) * SHADES);
      const ring = [at, at + rows, at + rows + 1, at + 1].map(
        (k) => `${places[2 * k].toFixed(1)} ${places[2 * k + 1].toFixed(1)}`);
      const d = `M${ring.join("L")}Z`;
      groups.set(shade, (groups.get(shade) ?? "") + d);
    }
  }
  for (const [shade, d] of groups) {
    const colour = heatColour(low + (shade / SHADES) * (high - low));
    node(svg, "path", { d, fill: colour, "shape-rendering": "crispEdges" });
  }
}

/** Points along the vee's outline, mm. */
function chalk(plate) {
  const ring = [...plate.outline, plate.outline[0]];
  return ring.slice(1).flatMap(([x, y], k) => [0, 0.2, 0.4, 0.6, 0.8, 1].map(
    (s) => [ring[k][0] + s * (x - ring[k][0]), ring[k][1] + s * (y - ring[k][1])]));
}

/** The number of the grid line that is nearest. */
function nearest(lines, value) {
  return lines.reduce((best, v, k) =>
    (Math.abs(v - value) < Math.abs(lines[best] - value) ? k : best), 0);
}

/** The plate at a frame: held at its left end, as hot and as bent as computed. */
function plateView(host, width, track, step) {
  const plate = STATES.plate, heating = STATES.heatings[track.heating];
  const frame = track.frames[step], times = track.times;
  const left = 30, room = 66, half = plate.x.at(-1);
  const scale = (width - left - 74) / (2 * half), tall = plate.width * scale;
  const height = tall + 2 * room + 58;
  const svg = sheet(host, width, height, plateTold(track, step));
  const px = ([x, y]) => [left + (x + half) * scale, room + (plate.width - y) * scale];
  const rows = plate.y.length, columns = plate.x.length;
  const u = between(displacements(track, step), (columns + 1) / 2, (rows + 1) / 2, 2);
  const spots = new Float32Array(2 * columns * rows), at = (k) => [spots[2 * k], spots[2 * k + 1]];
  for (let k = 0; k < columns * rows; k += 1) {
    const x = plate.x[Math.floor(k / rows)], y = plate.y[k % rows];
    spots.set(px([x + times * u[2 * k], y + times * u[2 * k + 1]]), 2 * k);
  }
  const T = between(temperatures(heating, frame), columns, rows, 1);
  patches(svg, 2 * columns - 1, 2 * rows - 1, T, between(spots, columns, rows, 2));
  const edge = [];
  for (let i = 0; i < columns; i += 1) edge.push(at(i * rows));
  for (let j = 1; j < rows; j += 1) edge.push(at((columns - 1) * rows + j));
  for (let i = columns - 2; i >= 0; i -= 1) edge.push(at(i * rows + rows - 1));
  line(svg, [...edge, edge[0]], { "stroke-width": 1.6, "stroke-linejoin": "round" });
  const corners = [[-half, 0], [half, 0], [half, plate.width], [-half, plate.width], [-half, 0]];
  line(svg, corners.map(px), { "stroke-width": 1, stroke: GREY, "stroke-dasharray": "6 4" });
  const bent = ([x, y]) => {
    const k = nearest(plate.x, x) * rows + nearest(plate.y, y);
    return px([x + times * u[2 * k], y + times * u[2 * k + 1]]);
  };
  line(svg, chalk(plate).map(bent), { stroke: PAPER, "stroke-width": 1.6,
    "stroke-dasharray": "4 3" });
  const torch = heating.torch[frame];
  if (torch) {
    const [x, y] = px(torch), r = plate.radius * scale;
    node(svg, "circle", { cx: x, cy: y, r, fill: "none", stroke: PAPER, "stroke-width": 4 });
    node(svg, "circle", { cx: x, cy: y, r, fill: "none", stroke: INK, "stroke-width": 2 });
    line(svg, [[x, y - r], [x, 44]], { "stroke-width": 1.2 });
    say(svg, x, 40, "torch", { at: "middle", size: 14 });
  }
  block(svg, 4, room - 14, left - 4, tall + 28);
  endLoad(svg, track, step, px([half, plate.width / 2]), tall);
  const turn = track.turn[frame], low = room + tall, wide = width > 460;
  const way = Math.abs(turn) < STATES.units.noLength ? "straight"
    : `${wide ? "right end turned" : "end"} ${turn > 0 ? "up" : "down"} ${
      perLength(Math.abs(turn), false)}`;
  say(svg, width - 6, wide ? 17 : low + 54, way, { at: "end", size: 16, bold: true });
  say(svg, 4, 17, `hottest ${degrees(heating.hot[frame])}`, { size: 16, bold: true });
  colourBar(svg, left, low + room + 14, Math.min(0.62 * width, width - 120));
}

/** A bent arrow at the right end for the moment on it. */
function endLoad(svg, track, step, [x, y], tall) {
  const moment = track.moment[track.frames[step]];
  if (Math.abs(moment) < 1) return;
  const up = moment > 0 ? -1 : 1, r = Math.min(34, 0.3 * tall), at = x + 20;
  const d = `M${at} ${y - up * r}A${r} ${r} 0 0 ${up < 0 ? 0 : 1} ${at} ${y + up * r}`;
  node(svg, "path", { d, fill: "none", stroke: PULL, "stroke-width": 4 });
  arrow(svg, at + 2, y + up * r, -16, 0, PULL);
}

const SQUEEZE = 20;  // s: before this the time axis is even, after it ever tighter
const squeezed = (t) => Math.asinh(t / SQUEEZE);

/** The time axis with a place for "cold" and, with a load, for "let go". */
function timeAxis(heating, loaded) {
  const end = heating.end, span = squeezed(end);
  const place = (t, steps) => (t === null ? SQUEEZE * Math.sinh(span * (1.08 + 0.15 * steps)) : t);
  const ticks = [[0, "0"], [20, "20 s"], [60, "1 min"], [180, "3"], [600, "10"], [1800, "30 min"]]
    .filter(([t]) => t <= end);
  ticks.push([place(null, 0), "cold"]);
  if (loaded) ticks.push([place(null, 1), "let go"]);
  return { place, axis: { from: 0, to: place(null, loaded ? 1.25 : 0.25), map: squeezed, ticks,
    name: "time since the torch was lit" } };
}

function timePoints(track, values, axis, last = values.length) {
  const heating = STATES.heatings[track.heating], points = [];
  let cold = 0;
  for (let k = 0; k < last; k += 1) {
    const t = heating.t[k];
    points.push([axis.place(t, t === null ? cold : 0), values[k]]);
    if (t === null) cold += 1;
  }
  return points;
}

/** Steps of a track that have a place on the time axis: without a load nobody lets go. */
const shownSteps = (t) => t.turn.length - (t.loaded || t.folds ? 0 : 1);

/** Turn against time: this plate strong, the others faint. */
function turnChart(host, width, track, step, bench) {
  const all = Object.values(bench.tracks), loaded = all.some((t) => t.loaded);
  const calm = all.filter((t) => !t.folds).flatMap((t) => t.turn);
  const high = Math.max(...calm), low = Math.min(...calm), pad = 0.12 * (high - low);
  const axis = timeAxis(longest(all), loaded);
  const chart = axes(host, width, CHART, `Turn against time; now ${plateTold(track, step)}`, axis.axis,
    { from: low - pad, to: high + pad, name: `turn of the right end, ${STATES.units.per}` });
  const { svg, X, Y } = chart;
  torchOn(chart, STATES.heatings[track.heating]);
  const cap = (v) => Math.min(v, high + pad);
  for (const t of all.filter((other) => other !== track)) {
    const way = timePoints(t, t.turn, axis, shownSteps(t)).map(([x, y]) => [X(x), Y(cap(y))]);
    line(svg, way, { stroke: "#9aa3ab", "stroke-width": 1.3 });
  }
  const frame = track.frames[step];
  const whole = timePoints(track, track.turn, axis, shownSteps(track)).map(([x, y]) => [X(x), Y(cap(y))]);
  line(svg, whole, { stroke: PULL, "stroke-width": 1.4, opacity: 0.6 });
  line(svg, whole.slice(0, frame + 1), { stroke: PULL, "stroke-width": 3.5 });
  here(svg, ...whole[frame], PULL);
  if (track.turn[frame] > high + pad) {
    say(svg, chart.right, whole[frame][1] + 42, `off the chart: ${perLength(track.turn[frame])}`,
      { at: "end", size: 14, bold: true, fill: PULL });
  }
  say(svg, chart.left + 6, Y(high + pad) + 14, "\u2191 closes the vee", { size: 13, fill: GREY });
  if (low < -0.2 * high) {
    say(svg, chart.left + 6, chart.low - 8, "\u2193 opens it", { size: 13, fill: GREY });
  }
}

function longest(tracks) {
  const heatings = tracks.map((t) => STATES.heatings[t.heating]);
  return heatings.reduce((a, b) => (b.end > a.end ? b : a));
}

/** A grey band while the torch burns. */
function torchOn({ svg, X, top, low }, heating) {
  const right = X(heating.off);
  const band = node(svg, "rect", { x: X(0), y: top, width: right - X(0), height: low - top,
    fill: "#eef1f4" });
  svg.insertBefore(band, svg.firstChild);
  say(svg, X(0) + 6, low - 26, "torch on", { size: 13, fill: GREY });
}

/** Hottest steel against time, with the two temperatures that practice waits for. */
function heatChart(host, width, track, step, bench) {
  const all = Object.values(bench.tracks), axis = timeAxis(longest(all), false);
  const limits = STATES.limits, top = STATES.ramp.at(-1).at;
  const chart = axes(host, width, CHART, `Hottest steel against time; now ${plateTold(track, step)}`,
    axis.axis, { from: 0, to: top, name: `hottest steel, ${STATES.units.temperature}` });
  const { svg, X, Y } = chart;
  torchOn(chart, STATES.heatings[track.heating]);
  for (const [T, words] of [[limits.forced, "air or water not above this"],
    [limits.next, "next heat not above this"]]) {
    line(svg, [[chart.left, Y(T)], [chart.right, Y(T)]], { stroke: PUSH, "stroke-width": 1.6,
      "stroke-dasharray": "8 4" });
    say(svg, chart.right - 2, Y(T) - 6, `${degrees(T)}: ${words}`, { at: "end", size: 13.5, fill: PUSH });
  }
  for (const t of all.filter((other) => other !== track)) {
    const way = timePoints(t, STATES.heatings[t.heating].hot, axis, shownSteps(t));
    line(svg, way.map(([x, y]) => [X(x), Y(y)]), { stroke: "#9aa3ab", "stroke-width": 1.3 });
  }
  const hot = STATES.heatings[track.heating].hot;
  const way = timePoints(track, hot, axis, hot.length - 1).map(([x, y]) => [X(x), Y(y)]);
  const frame = Math.min(track.frames[step], way.length - 1);
  line(svg, way, { stroke: PULL, "stroke-width": 1.4, opacity: 0.6 });
  line(svg, way.slice(0, frame + 1), { stroke: PULL, "stroke-width": 3.5 });
  here(svg, ...way[frame], PULL);
}

/** What stays, of every plate of the bench, as bars with their numbers. */
function stayChart(host, width, track, step, bench) {
  const keys = Object.keys(bench.tracks), cooled = bench.kind === "coolings";
  const row = cooled ? 64 : 46, height = keys.length * row + 40;
  const svg = sheet(host, width, height, "What stays when all is cold and let go");
  say(svg, 4, 17, "permanent rotation", { size: 14, bold: true });
  const stay = Object.values(bench.tracks).map((t) => (t.folds ? null : t.rotation));
  const most = Math.max(...stay.filter((v) => v !== null)), wide = width - 190;
  keys.forEach((key, k) => {
    const t = bench.tracks[key], y = 34 + k * row, now = t === track;
    const long = t.folds ? wide : (t.rotation / most) * wide;
    say(svg, 4, y + 13, bench.names[key], { size: 14, bold: now });
    node(svg, "rect", { x: 4, y: y + 18, width: Math.max(long, 1), height: 13,
      fill: now ? PULL : "#9aa3ab", stroke: now ? INK : "none" });
    say(svg, long + 12, y + 30, t.folds ? "folds: no way back" : perLength(t.rotation),
      { size: 14, bold: now });
    const ready = `next heat may start after ${clock(STATES.heatings[t.heating].ready)}`;
    if (cooled) say(svg, 4, y + 46, ready, { size: 13, fill: GREY });
  });
}

function clock(seconds) {
  return seconds < 180 ? `${Math.round(seconds)} s` : `${number(seconds / 60, 1)} min`;
}

function plateTold(track, step) {
  const heating = STATES.heatings[track.heating], frame = track.frames[step];
  const name = track.stops.find((s) => s[0] === step)?.[1];
  const t = heating.t[frame];
  const when = t === null ? (name === "let go" ? "Let go" : "Cold again")
    : t === 0 ? (frame === 0 ? "Cold" : "Load set, cold")
      : `${heating.torch[frame] ? "Torch on" : "Cooling"}, ${clock(t)}`;
  const turn = track.turn[frame];
  const way = Math.abs(turn) < STATES.units.noLength ? "straight"
    : `${turn > 0 ? "vee closed by" : "vee opened by"} ${perLength(Math.abs(turn), false)}`;
  const fold = name === "folds" ? " It folds." : "";
  return `${when}: hottest ${degrees(heating.hot[frame])}, ${way}.${fold}`;
}

function plateTiles(track, step) {
  const heating = STATES.heatings[track.heating], frame = track.frames[step];
  const t = heating.t[frame], moment = track.moment[frame] / STATES.plate.plasticMoment;
  const tiles = [["time", t === null ? "cold" : clock(t)],
    ["hottest steel", degrees(heating.hot[frame])],
    ["turn now", perLength(track.turn[frame])]];
  tiles.push(track.loaded ? ["moment on it", `${number(moment, 2, true)} Mp`]
    : ["torch", heating.torch[frame] ? "on" : "off"]);
  return tiles;
}
