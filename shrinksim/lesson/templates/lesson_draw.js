// Drawing for the lesson: SVG by hand, at the size of the place it goes to.
const SVG = "http://www.w3.org/2000/svg";
const INK = "#1b1f24", GREY = "#59626b", FAINT = "#d8dde2", PAPER = "#ffffff";
const PUSH = "#0067a3", PULL = "#b84300", STRUCK = "#3c454d";

function node(parent, name, attributes, words) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (words !== undefined) made.textContent = words;
  parent.appendChild(made);
  return made;
}

/** An empty drawing in the place of what the host held; label : what it shows. */
function sheet(host, width, height, label) {
  host.replaceChildren();
  return node(host, "svg", {
    viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": label,
  });
}

/** Words with a white edge, readable over lines; at : start, middle or end. */
function say(svg, x, y, words, { at = "start", size = 15, bold = false, fill = INK } = {}) {
  return node(svg, "text", {
    x: x.toFixed(1), y: y.toFixed(1), "text-anchor": at, "font-size": size, fill,
    "font-weight": bold ? 700 : 400, stroke: PAPER, "stroke-width": 4,
    "stroke-linejoin": "round", "paint-order": "stroke",
  }, words);
}

function line(svg, points, style) {
  const d = points.map(([x, y], k) => `${k ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`);
  return node(svg, "path", { d: d.join(""), fill: "none", stroke: INK, ...style });
}

/** An arrow from (x, y) to (x + dx, y + dy); a short one has a short head. */
function arrow(svg, x, y, dx, dy, colour) {
  const long = Math.hypot(dx, dy);
  if (long < 1) return;
  const head = Math.min(11, 0.7 * long), ux = dx / long, uy = dy / long;
  const bx = x + dx - ux * head, by = y + dy - uy * head, half = 0.55 * head;
  line(svg, [[x, y], [bx, by]], { stroke: colour, "stroke-width": 4 });
  const tip = [[x + dx, y + dy], [bx - uy * half, by + ux * half],
    [bx + uy * half, by - ux * half]];
  node(svg, "path", { d: `M${tip.map((p) => p.join(" ")).join("L")}Z`, fill: colour });
}

/** Solid ground: a grey block with slanted strokes. */
function block(svg, x, y, wide, tall) {
  node(svg, "rect", { x, y, width: wide, height: tall, fill: "#c3cad1", stroke: STRUCK,
    "stroke-width": 1.5 });
  for (let s = 12; s < wide + tall; s += 12) {
    const x1 = x + Math.min(s, wide), y1 = y + Math.max(0, s - wide);
    const x2 = x + Math.max(0, s - tall), y2 = y + Math.min(s, tall);
    line(svg, [[x1, y1], [x2, y2]], { stroke: "#8a949e", "stroke-width": 1 });
  }
}

/** Colour of a temperature, in the page's unit: darker is colder. */
function heatColour(T) {
  const ramp = STATES.ramp;
  let k = 1;
  while (k < ramp.length - 1 && T > ramp[k].at) k += 1;
  const a = ramp[k - 1], b = ramp[k];
  const share = Math.min(1, Math.max(0, (T - a.at) / (b.at - a.at)));
  return `rgb(${a.rgb.map((c, i) => Math.round(c + share * (b.rgb[i] - c))).join(",")})`;
}

/** The colours with their temperatures. */
function colourBar(svg, x, y, wide) {
  const low = STATES.ramp[0].at, high = STATES.ramp.at(-1).at, count = 48;
  for (let k = 0; k < count; k += 1) {
    node(svg, "rect", { x: (x + (k / count) * wide).toFixed(1), y, height: 12,
      width: (wide / count + 0.6).toFixed(1),
      fill: heatColour(low + ((k + 0.5) / count) * (high - low)) });
  }
  for (const T of roundTicks(low, high, wide > 300 ? 6 : 4)) {
    const at = x + ((T - low) / (high - low)) * wide;
    line(svg, [[at, y + 12], [at, y + 16]], { stroke: GREY });
    say(svg, at, y + 30, `${T}`, { at: "middle", size: 13, fill: GREY });
  }
  say(svg, x + wide + 8, y + 11, STATES.units.temperature, { size: 13, fill: GREY });
}

function roundTicks(low, high, most) {
  const raw = (high - low) / most, power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].find((m) => m * power >= raw * 0.999) * power;
  const ticks = [];
  for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + 1e-9 * step; v += step) {
    ticks.push(Math.abs(v) < 1e-9 * step ? 0 : Number(v.toPrecision(6)));
  }
  return ticks;
}

/** A number with a real minus; signed puts a plus before what grows. */
function number(value, digits, signed = false) {
  const shown = Math.abs(value).toFixed(digits);
  if (Number(shown) === 0) return shown;
  return (value < 0 ? "\u2212" : signed ? "+" : "") + shown;
}

const perLength = (value, signed = true) =>
  `${number(value, STATES.units.perDigits, signed)} ${STATES.units.per}`;
const degrees = (T) => `${number(T, 0)} ${STATES.units.temperature}`;
const amount = (s) => `${number(Math.abs(s), 1).replace(/\.0$/, "")} ${STATES.units.stress}`;

/** "push", "pull" or nothing, of a stress. */
function sense(stress) {
  if (Math.abs(stress) < STATES.units.noStress) return "";
  return stress < 0 ? "push" : "pull";
}

/** Axes to draw on.  x, y : { from, to, name, ticks [[value, text]], map }. */
function axes(host, width, height, label, x, y) {
  const svg = sheet(host, width, height, label);
  const left = 58, right = width - 14, top = 30, low = height - 46;
  const mx = x.map ?? ((v) => v);
  const X = (v) => left + ((mx(v) - mx(x.from)) / (mx(x.to) - mx(x.from))) * (right - left);
  const Y = (v) => low - ((v - y.from) / (y.to - y.from)) * (low - top);
  const marks = y.ticks ?? roundTicks(y.from, y.to, 7).map((v) => [v, number(v, decimals(y))]);
  for (const [v, words] of marks) {
    line(svg, [[left, Y(v)], [right, Y(v)]], { stroke: FAINT,
      "stroke-width": v === 0 ? 0 : 1 });
    say(svg, left - 8, Y(v) + 5, words, { at: "end", size: 13.5, fill: GREY });
  }
  if (y.from < 0 && y.to > 0) {
    line(svg, [[left, Y(0)], [right, Y(0)]], { stroke: GREY, "stroke-width": 1.2 });
  }
  const along = x.ticks ?? roundTicks(x.from, x.to, 7).map((v) => [v, `${v}`]);
  let free = Infinity;
  for (const [v, words] of [...along].reverse()) {  // from the right, where there is room
    line(svg, [[X(v), low], [X(v), low + 5]], { stroke: GREY });
    const half = 3.9 * words.length;
    if (X(v) + half + 4 > free) continue;
    free = X(v) - half;
    say(svg, X(v), low + 20, words, { at: "middle", size: 13.5, fill: GREY });
  }
  line(svg, [[left, top], [left, low], [right, low]], { stroke: GREY, "stroke-width": 1.2 });
  say(svg, 4, 17, y.name, { size: 14, bold: true });
  say(svg, right, height - 8, x.name, { at: "end", size: 14, bold: true });
  return { svg, X, Y, left, right, top, low };
}

function decimals(y) {
  const span = y.to - y.from;
  return span > 12 ? 0 : span > 1.2 ? 1 : 2;
}

/** A ring with a dot in it: where we are. */
function here(svg, x, y, colour) {
  node(svg, "circle", { cx: x, cy: y, r: 8, fill: PAPER, stroke: colour, "stroke-width": 3 });
  node(svg, "circle", { cx: x, cy: y, r: 3.5, fill: colour });
}
