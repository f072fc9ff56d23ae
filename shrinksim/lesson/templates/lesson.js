// The benches of the lesson: choices, slider, steps, and what is drawn for them.
const BENCHES = {
  held: { picture: oneBar, charts: [loopChart], told, tiles: barTiles },
  free: { picture: oneBar, charts: [lengthChart], told, tiles: barTiles },
  spring: { picture: oneBar, charts: [loopChart, springChart], told, tiles: barTiles },
  three: { picture: threeBars, charts: [loopChart], told, tiles: barTiles },
  vee: { picture: plateView, charts: [heatChart, turnChart], told: plateTold, tiles: plateTiles },
  loads: { picture: plateView, charts: [turnChart, stayChart], told: plateTold, tiles: plateTiles },
  coolings: { picture: plateView, charts: [heatChart, stayChart], told: plateTold, tiles: plateTiles },
};

function setUp(place) {
  const bench = STATES.benches[place.dataset.bench], ways = BENCHES[bench.kind];
  const slider = place.querySelector("input[type=range]");
  const live = place.querySelector(".told"), tiles = place.querySelector(".tiles");
  const stops = place.querySelector(".stops");
  const [back, on] = place.querySelectorAll(".step");
  const track = () => {
    const picked = [...place.querySelectorAll(".choices input:checked")].map((i) => i.value);
    return bench.tracks[picked.join("|")] ?? Object.values(bench.tracks)[0];
  };
  const length = (t) => (t.frames ?? t.T).length;
  const hosts = [...place.querySelectorAll(".drawing")];
  let speaking = 0;

  function draw() {
    const t = track(), step = Number(slider.value);
    const draws = [ways.picture, ...ways.charts];
    hosts.forEach((host, k) => draws[k](host, roomFor(host), t, step, bench));
    const words = ways.told(t, step);
    slider.setAttribute("aria-valuetext", `step ${step + 1} of ${length(t)}: ${words}`);
    tiles.replaceChildren(...ways.tiles(t, step).map(([name, value]) => {
      const box = document.createElement("div");
      const dt = document.createElement("dt"), dd = document.createElement("dd");
      dt.textContent = name;
      dd.textContent = value;
      box.append(dt, dd);
      return box;
    }));
    for (const button of stops.children) {
      const now = Number(button.dataset.step) === step;
      button.setAttribute("aria-pressed", String(now));
    }
    back.disabled = step === 0;
    on.disabled = step === length(t) - 1;
    clearTimeout(speaking);
    speaking = setTimeout(() => { live.textContent = words; }, 250);
  }

  function nameStops() {
    stops.replaceChildren(...track().stops.map(([step, name]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = name;
      button.dataset.step = step;
      button.addEventListener("click", () => { slider.value = step; draw(); });
      return button;
    }));
  }

  function choose() {
    const share = slider.value / Math.max(1, slider.max), t = track();
    const stop = [...stops.children].find((b) => b.getAttribute("aria-pressed") === "true");
    const same = t.stops.find(([, name]) => name === stop?.textContent);
    slider.max = length(t) - 1;
    slider.value = same ? same[0] : Math.round(share * (length(t) - 1));
    nameStops();
    draw();
  }

  place.querySelectorAll(".choices input").forEach((i) => i.addEventListener("change", choose));
  slider.addEventListener("input", draw);
  back.addEventListener("click", () => { slider.stepDown(); draw(); });
  on.addEventListener("click", () => { slider.stepUp(); draw(); });
  slider.max = length(track()) - 1;
  slider.value = 0;
  nameStops();
  draw();
  live.textContent = ways.told(track(), 0);
  return draw;
}

/** Width (px) for a drawing in its place; type keeps its size on any screen. */
function roomFor(host) {
  return Math.max(280, Math.min(760, Math.floor(host.clientWidth)));
}

/** The states that are printed: every stop of the bench's first choice, then its curves. */
function printSet(place) {
  const bench = STATES.benches[place.dataset.bench], ways = BENCHES[bench.kind];
  const track = bench.tracks[bench.printed], last = track.stops.at(-1)[0];
  const add = (draw, step, words) => {
    const figure = document.createElement("figure"), host = document.createElement("div");
    figure.append(host);
    draw(host, 430, track, step, bench);
    if (words) {
      const caption = document.createElement("figcaption");
      caption.textContent = words;
      figure.append(caption);
    }
    place.append(figure);
  };
  for (const [step, name] of track.stops) {
    const words = ways.told(track, step), same = words.toLowerCase().startsWith(name);
    add(ways.picture, step, same ? words : `${name[0].toUpperCase()}${name.slice(1)}. ${words}`);
  }
  for (const chart of ways.charts) add(chart, last, "");
}

function pressed(button, change) {
  button.addEventListener("click", () => {
    const now = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(now));
    change(now);
  });
}

const drawings = [...document.querySelectorAll(".bench")].map(setUp);
document.querySelectorAll("input[name=answers]").forEach((choice) => {
  choice.addEventListener("change", () => { document.documentElement.dataset.answers = choice.value; });
});
pressed(document.getElementById("larger"), (now) => {
  document.documentElement.classList.toggle("larger", now);
  drawings.forEach((draw) => draw());
});
let drawn = false;
function drawPrint() {
  if (!drawn) document.querySelectorAll(".print-set").forEach(printSet);
  drawn = true;
}
window.addEventListener("beforeprint", drawPrint);
window.setTimeout(drawPrint, 1500);
let asked = 0;
window.addEventListener("resize", () => {
  cancelAnimationFrame(asked);
  asked = requestAnimationFrame(() => drawings.forEach((draw) => draw()));
});
document.documentElement.classList.add("ready");
