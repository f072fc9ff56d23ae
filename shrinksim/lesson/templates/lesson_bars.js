// Bars: what they look like at a step, and the curves they have run along.
const DRAWN = 20;   // length and thickness changes are drawn so many times as large

/** A bar from x to the right, cold length ``long``, at a step; returns its right end. */
function drawBar(svg, track, step, x, middle, long, tall) {
  const end = x + long * (1 + DRAWN * track.e[step]);
  const high = tall * (1 + DRAWN * track.w[step]);
  node(svg, "rect", { x, y: middle - high / 2, width: end - x, height: high,
    fill: heatColour(track.T[step]), stroke: INK, "stroke-width": 1.5 });
  return end;
}

/** Dashed outline of the cold bar, and how far the end is from where it was. */
function coldOutline(svg, track, step, x, middle, long, tall) {
  node(svg, "rect", { x, y: middle - tall / 2, width: long, height: tall, fill: "none",
    stroke: INK, "stroke-width": 1.2, "stroke-dasharray": "6 4" });
  const at = x + long, y = middle + tall / 2 + 52;
  line(svg, [[at, middle + tall / 2], [at, y + 8]], { stroke: GREY, "stroke-dasharray": "2 3" });
  const end = x + long * (1 + DRAWN * track.e[step]);
  if (Math.abs(end - at) > 2) arrow(svg, at, y, end - at, 0, INK);
  const words = Math.abs(track.per[step]) < STATES.units.noLength
    ? "as long as at first" : perLength(track.per[step]);
  say(svg, Math.min(at, end) - 8, y + 5, words, { at: "end", size: 16, bold: true });
}

/** Arrows of what pushes or pulls the ends of a bar, with its size in words. */
function endForces(svg, stress, who, x, end, middle, tall) {
  const way = sense(stress), y = middle + tall / 2 + 26;
  if (!way) {
    say(svg, x + 4, y + 5, `${who}: nothing`, { size: 15, fill: GREY });
    return;
  }
  const colour = way === "push" ? PUSH : PULL;
  const long = 14 + 40 * Math.min(1, Math.abs(stress) / STATES.steel.strength.s[0]);
  const out = way === "push" ? 1 : -1;
  arrow(svg, out > 0 ? x + 2 : x + 2 + long, y, out * long, 0, colour);
  arrow(svg, out > 0 ? end - 2 : end - 2 - long, y, -out * long, 0, colour);
  say(svg, x + long + 12, y + 5, `${who}: ${way} ${amount(stress)}`, { size: 15, bold: true,
    fill: colour });
}

function zigzag(svg, from, to, y, gap) {
  const points = [[from, y]], turns = 9, lead = 6;
  for (let k = 0; k < turns; k += 1) {
    const x = from + lead + ((to - from - 2 * lead) * (k + 0.5)) / turns;
    points.push([x, y + (k % 2 ? 13 : -13)]);
  }
  points.push([to, y]);
  line(svg, points, { stroke: INK, "stroke-width": 2.4, "stroke-linejoin": "round" });
  line(svg, [[from, y - 17], [from, y + 17]], { "stroke-width": gap ? 4 : 2.4 });
}

/** One bar: loose, in a vice, between walls, or against a spring. */
function oneBar(host, width, track, step) {
  const height = 250, tall = 52, middle = 100, x = 46, kind = track.holding;
  const svg = sheet(host, width, height, told(track, step));
  const long = (width - x - (kind === "spring" ? 118 : 52)) / (kind === "free" ? 1.2 : 1.04);
  const end = drawBar(svg, track, step, x, middle, long, tall);
  const stiff = kind === "jaws" || kind === "walls", free = x + long;
  block(svg, 6, middle - 62, 40, 124);
  if (stiff) block(svg, free, middle - 62, 40, 124);
  if (kind === "walls") {
    for (const [at, way] of [[x, 1], [free, -1]]) {
      for (const up of [1, -1]) {
        const y = middle + (up * tall) / 2;
        node(svg, "path", { fill: STRUCK, d: `M${at} ${y}h${way * 9}L${at} ${y + up * 9}Z` });
      }
    }
  }
  if (kind === "spring") {
    const wall = width - 26;
    block(svg, wall, middle - 62, 24, 124);
    const loose = track.way === "only pushes" && track.e[step] < 0;
    zigzag(svg, loose ? free : end, wall, middle, track.way === "only pushes");
  }
  coldOutline(svg, track, step, x, middle, long, tall);
  const who = { jaws: "jaws", walls: "walls", spring: "spring", free: "outside" }[kind];
  endForces(svg, track.s[0][step], who, x, end, middle, tall);
  say(svg, x + long / 2, middle - tall / 2 - 18, degrees(track.T[step]), { at: "middle",
    size: 22, bold: true });
  colourBar(svg, x, height - 40, Math.min(long, width - x - 60));
}

/** Three bars between stiff end plates, the middle one heated. */
function threeBars(host, width, track, step) {
  const height = 330, x = 40, thin = track.sides > 1 ? 14 : 30, side = thin * track.sides;
  const svg = sheet(host, width, height, told(track, step));
  const long = (width - x - 60) / 1.04;
  const end = x + long * (1 + DRAWN * track.e[step]);
  const gap = (224 - thin - 2 * side) / 3, pitch = gap + (thin + side) / 2;
  const first = 20 + side / 2, rows = [[1, first], [0, first + pitch], [2, first + 2 * pitch]];
  node(svg, "rect", { x: x - 18, y: 14, width: 18, height: 238, fill: STRUCK });
  node(svg, "rect", { x: end, y: 14, width: 18, height: 238, fill: STRUCK });
  line(svg, [[x + long, 8], [x + long, 258]], { stroke: GREY, "stroke-dasharray": "3 3" });
  for (const [bar, y] of rows) {
    const hot = bar === 0, high = hot ? thin * (1 + DRAWN * track.w[step]) : side;
    node(svg, "rect", { x, y: y - high / 2, width: end - x, height: high, stroke: INK,
      "stroke-width": 1.5, fill: heatColour(hot ? track.T[step] : track.T[0]) });
    const s = track.s[bar][step], way = sense(s), colour = way === "push" ? PUSH : PULL;
    const words = way ? `${way} ${amount(s)}` : "no stress";
    const T = hot ? degrees(track.T[step]) : degrees(track.T[0]);
    say(svg, x + 8, y + high / 2 + 18, hot || width < 440 ? T : `${T}, stays cold`, { size: 15, bold: hot });
    say(svg, end - 8, y + high / 2 + 18, words, { at: "end", size: 15, bold: true,
      fill: way ? colour : GREY });
  }
  const moved = Math.abs(track.per[step]) < STATES.units.noLength
    ? "frame as long as at first" : `frame ${perLength(track.per[step])}`;
  say(svg, width - 4, 274, moved, { at: "end", size: 16, bold: true });
  colourBar(svg, x, height - 40, Math.min(long, width - x - 60));
}

/** Stress against temperature: the path so far, the path to come, the strength. */
function loopChart(host, width, track, step) {
  const strength = STATES.steel.strength, top = strength.s[0] * 1.15;
  const chart = axes(host, width, 330,
    `Stress against temperature; now ${told(track, step)}`,
    { from: STATES.units.cold, to: strength.T.at(-1), name: `temperature, ${STATES.units.temperature}` },
    { from: -top, to: top, name: `push (\u2212) and pull (+), ${STATES.units.stress}` });
  const { svg, X, Y } = chart;
  const upper = strength.T.map((T, k) => [X(T), Y(strength.s[k])]);
  const lower = strength.T.map((T, k) => [X(T), Y(-strength.s[k])]);
  node(svg, "path", { fill: "#eef1f4", stroke: "none",
    d: `M${[...upper, ...lower.reverse()].map((p) => p.join(" ")).join("L")}Z` });
  line(svg, [[chart.left, Y(0)], [chart.right, Y(0)]], { stroke: GREY, "stroke-width": 1.2 });
  for (const edge of [upper, lower]) {
    line(svg, edge, { stroke: GREY, "stroke-width": 1.2, "stroke-dasharray": "5 4" });
  }
  say(svg, X(strength.T[8]), Y(0.84 * strength.s[0]), "grey: what the steel can stand",
    { size: 13.5, fill: GREY });
  const bars = track.s.length > 1 ? [1, 0] : [0];
  for (const bar of bars) {
    const colour = bar ? GREY : PULL, dash = bar ? "7 4" : "none";
    const way = track.T.map((T, k) => [X(T), Y(track.s[bar][k])]);
    line(svg, way, { stroke: colour, "stroke-width": 1.2, opacity: 0.55, "stroke-dasharray": dash });
    line(svg, way.slice(0, step + 1), { stroke: colour, "stroke-width": 3.5,
      "stroke-dasharray": dash, "stroke-linejoin": "round" });
    here(svg, ...way[step], bar ? GREY : PULL);
    if (bar) {
      say(svg, X(strength.T[0]) + 60, Y(track.s[bar][step]) - 12, "each cold bar",
        { size: 13.5, fill: GREY });
    }
  }
}

/** Length against temperature, up and back. */
function lengthChart(host, width, track, step) {
  const top = Math.max(...track.per) * 1.12;
  const { svg, X, Y } = axes(host, width, 330, `Length against temperature; now ${told(track, step)}`,
    { from: STATES.units.cold, to: STATES.steel.strength.T.at(-1),
      name: `temperature, ${STATES.units.temperature}` },
    { from: -0.06 * top, to: top, name: `longer by, ${STATES.units.per}` });
  const way = track.T.map((T, k) => [X(T), Y(track.per[k])]);
  line(svg, way, { stroke: PULL, "stroke-width": 1.2, opacity: 0.55 });
  line(svg, way.slice(0, step + 1), { stroke: PULL, "stroke-width": 3.5 });
  here(svg, ...way[step], PULL);
  const hot = way.reduce((a, b) => (b[0] > a[0] ? b : a));
  say(svg, hot[0] - 120, hot[1] + 6, "up and back", { at: "end", size: 14, fill: GREY });
  say(svg, hot[0] - 120, hot[1] + 23, "on the same line", { at: "end", size: 14, fill: GREY });
}

/** Permanent shortening over stiffness: every spring that was computed. */
function springChart(host, width, track, step, bench) {
  const every = Object.values(bench.tracks);
  const stiff = [...new Set(every.map((t) => t.stiffness))].sort((a, b) => a - b);
  const top = Math.max(...every.map((t) => -t.per.at(-1))) * 1.15;
  const names = stiff.map((k, place) => [place, k < 1 ? `1/${Math.round(1 / k)}` : `${k}`]);
  const { svg, X, Y } = axes(host, width, 330, "Permanent shortening over the stiffness of the spring",
    { from: -0.4, to: stiff.length - 0.6, ticks: names, name: "stiffness of the spring over the bar's" },
    { from: 0, to: top, name: `permanent shortening, ${STATES.units.per}` });
  for (const [way, dash, words] of [["pushes and pulls", "none", "pushes and pulls"],
    ["only pushes", "7 4", "only pushes"]]) {
    const found = stiff.map((k) => every.find((t) => t.stiffness === k && t.way === way));
    const points = found.map((t, k) => [X(k), Y(-t.per.at(-1))]);
    line(svg, points, { stroke: GREY, "stroke-width": 2, "stroke-dasharray": dash });
    for (const [x, y] of points) node(svg, "circle", { cx: x, cy: y, r: 4.5, fill: GREY });
    const [x, y] = points.at(-1);
    say(svg, x, y + 24, words, { at: "end", size: 14, fill: GREY });
    const now = found.indexOf(track);
    if (now >= 0) here(svg, ...points[now], PULL);
  }
}

/** The state in a sentence. */
function told(track, step) {
  const hot = track.stops.find((s) => s[1] === "hottest")[0];
  const name = track.stops.find((s) => s[0] === step)?.[1];
  const phase = name === "let go" ? "Let go" : step === 0 ? "Cold" : step <= hot ? "Heating"
    : name === "cold again" ? "Cold again" : "Cooling";
  const way = sense(track.s[0][step]);
  const force = way ? `${way} ${amount(track.s[0][step])}` : "no stress";
  const length = `length ${perLength(track.per[step])}`;
  return `${phase}, ${degrees(track.T[step])}: ${force}, ${length}`;
}

/** Numbers for the tiles. */
function barTiles(track, step) {
  const s = track.s[0][step], way = sense(s);
  const tiles = [["temperature", degrees(track.T[step])],
    ["stress in the hot bar", way ? `${way} ${amount(s)}` : "none"],
    ["length now", perLength(track.per[step])],
    ["plastic strain (\u2212: squeezed)", perLength(track.p[step])]];
  return tiles;
}
