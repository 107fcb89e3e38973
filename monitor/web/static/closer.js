// A closer look at a bin's month or year: drag, or the buttons, from a year down to hours. The picture stays what it is
// without scripts; the library is fetched only when somebody asks for a closer look.
"use strict";
(() => {
  const figure = document.querySelector("figure[data-closer]");
  if (!figure) return;
  const HOUR = 3600e3, LEAST = 2 * HOUR, tz = figure.dataset.tz, whole = [+figure.dataset.start, +figure.dataset.end];
  const DASHES = JSON.parse(figure.dataset.dashes);
  let span = whole.slice(), plots = [], box = null, turn = 0;

  const button = (words, act) => {
    const one = document.createElement("button");
    one.type = "button"; one.textContent = words; one.addEventListener("click", act);
    return one;
  };
  const load = () => window.uPlot ? Promise.resolve() : new Promise((done, failed) => {
    const sheet = document.createElement("link"), script = document.createElement("script");
    sheet.rel = "stylesheet"; sheet.href = figure.dataset.sheet;
    script.src = figure.dataset.script; script.onload = done; script.onerror = failed;
    document.head.append(sheet, script);
  });
  const ink = name => getComputedStyle(figure.querySelector("svg.chart")).getPropertyValue("--c-" + name).trim();
  const format = options => new Intl.DateTimeFormat("en-GB", {timeZone: tz, ...options});
  const DAYS = format({day: "numeric", month: "short"}), TIMES = format({hour: "2-digit", minute: "2-digit", hourCycle: "h23"}),
    WHOLE = format({weekday: "short", day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23"});

  const ground = panel => u => {
    const {ctx, bbox} = u;
    ctx.save();
    ctx.fillStyle = ink("paper"); ctx.fillRect(bbox.left, bbox.top, bbox.width, bbox.height);
    const inside = value => Math.min(Math.max(u.valToPos(value, "y", true), bbox.top), bbox.top + bbox.height);
    for (const band of panel.bands) {
      const top = band.high === null ? bbox.top : inside(band.high), foot = band.low === null ? bbox.top + bbox.height : inside(band.low);
      if (foot <= top) continue;
      ctx.fillStyle = ink(band.kind); ctx.fillRect(bbox.left, top, bbox.width, foot - top);
      ctx.strokeStyle = ctx.fillStyle = ink(band.kind + "-edge");
      ctx.setLineDash(band.kind === "harm" ? [3, 4] : []); ctx.lineWidth = devicePixelRatio;
      for (const [value, y] of [[band.high, top], [band.low, foot]]) {
        if (value === null || y <= bbox.top || y >= bbox.top + bbox.height) continue;
        ctx.beginPath(); ctx.moveTo(bbox.left, y); ctx.lineTo(bbox.left + bbox.width, y); ctx.stroke();
      }
      ctx.font = 12 * devicePixelRatio + "px Georgia, serif"; ctx.textBaseline = "top";
      ctx.fillText(band.words, bbox.left + 5 * devicePixelRatio, top + 3 * devicePixelRatio);
    }
    ctx.restore();
  };

  const options = (panel, width) => {
    const series = [{value: (u, at) => at === null ? "–" : WHOLE.format(at * 1e3)}], bands = [];
    for (const line of panel.lines) {
      const colour = ink("line-" + line.style % DASHES.length), shown = (u, value) => value === null || value === undefined ? "–" : value.toFixed(1);
      series.push({label: line.name + ", highest", stroke: "transparent", width: 0, points: {show: false}, value: shown},
        {label: line.name + ", lowest", stroke: "transparent", width: 0, points: {show: false}, value: shown},
        {label: line.name + ", mean", stroke: colour, width: 2, dash: DASHES[line.style % DASHES.length], points: {show: false}, value: shown});
      bands.push({series: [series.length - 3, series.length - 2], fill: tint(colour)});
    }
    const axis = {stroke: ink("ink"), font: "12px Georgia, serif", grid: {stroke: ink("grid"), width: 1}, ticks: {stroke: ink("soft"), width: 1}};
    return {
      title: panel.name, width, height: 260, series, bands, ms: 1e-3, legend: {live: true},
      tzDate: at => uPlot.tzDate(new Date(at * 1e3), tz),
      axes: [{...axis, values: (u, at) => at.map(t => words(t * 1e3, at.length > 1 ? (at[1] - at[0]) * 1e3 : 0))}, {...axis, size: 56}],
      scales: {x: {min: span[0] / 1e3, max: span[1] / 1e3}, y: {range: () => [panel.low, panel.high]}},
      cursor: {drag: {x: true, y: false, setScale: false}, sync: {key: "closer"}},
      hooks: {drawClear: [ground(panel)], setSelect: [u => {
        if (u.select.width < 6) return;
        go(u.posToVal(u.select.left, "x") * 1e3, u.posToVal(u.select.left + u.select.width, "x") * 1e3);
      }]},
    };
  };
  const tint = colour => {
    const probe = document.createElement("canvas").getContext("2d");
    probe.fillStyle = colour; probe.fillRect(0, 0, 1, 1);
    const [r, g, b] = probe.getImageData(0, 0, 1, 1).data;
    return `rgba(${r}, ${g}, ${b}, .24)`;
  };
  const words = (at, step) => step >= 20 * HOUR || TIMES.format(at) === "00:00" ? DAYS.format(at) : TIMES.format(at);

  const draw = told => {
    plots.forEach(one => one.destroy());
    box.querySelector(".plots").replaceChildren();
    plots = told.panels.filter(panel => panel.times.length).map(panel => {
      const place = document.createElement("div"), data = [panel.times.map(t => t / 1e3)];
      for (const line of panel.lines) data.push(...["high", "low", "mean"].map(name => line[name].map(v => v === "" ? undefined : v)));
      place.setAttribute("role", "group"); place.setAttribute("aria-label", panel.name + ", drawn from " + WHOLE.format(span[0]) + " to " + WHOLE.format(span[1]));
      box.querySelector(".plots").append(place);
      return new uPlot(options(panel, place.clientWidth), data, place);
    });
    const said = WHOLE.format(span[0]) + " to " + WHOLE.format(span[1]);
    box.querySelector("[role=status]").textContent = plots.length ? said : said + ": nothing was heard.";
  };
  let last = null;
  const go = async (start, end) => {
    const wide = Math.min(Math.max(end - start, LEAST), whole[1] - whole[0]);
    const begin = Math.round(Math.min(Math.max((start + end - wide) / 2, whole[0]), whole[1] - wide));
    const mine = ++turn;
    const answer = await fetch(`${figure.dataset.closer}?start=${begin}&end=${Math.round(begin + wide)}`);
    if (mine !== turn || !box) return;
    if (!answer.ok) { box.querySelector("[role=status]").textContent = "The numbers could not be fetched. Try again."; return; }
    span = [begin, begin + wide];
    draw(last = await answer.json());
  };
  const by = (share, shift) => () => {
    const half = (span[1] - span[0]) / 2, middle = (span[0] + span[1]) / 2 + shift * half;
    go(middle - half * share, middle + half * share);
  };
  const open = async () => {
    try { await load(); } catch { return; }
    box = document.createElement("div");
    box.className = "closer";
    const bar = document.createElement("div"), status = document.createElement("p"), place = document.createElement("div");
    bar.className = "buttons"; status.setAttribute("role", "status"); place.className = "plots";
    bar.append(button("Closer", by(1 / 3, 0)), button("Wider", by(3, 0)), button("Earlier", by(1, -1)), button("Later", by(1, 1)), button("Back to the picture", close));
    box.append(bar, status, place);
    figure.classList.add("aside");
    figure.before(box);
    bar.firstChild.focus();
    await go(...whole);
  };
  const close = () => {
    plots.forEach(one => one.destroy()); plots = []; turn++;
    box.remove(); box = null; span = whole.slice();
    figure.classList.remove("aside");
    opener.focus();
  };
  const opener = button("Look closer", open), bar = document.createElement("div");
  bar.className = "buttons closer-opener";
  bar.append(opener);
  figure.after(bar);
  new ResizeObserver(() => plots.forEach(one => one.setSize({width: box.querySelector(".plots").clientWidth, height: 260}))).observe(document.getElementById("main"));
  for (const query of ["(prefers-color-scheme: dark)", "(forced-colors: active)"])
    matchMedia(query).addEventListener("change", () => { if (box && last) draw(last); });
})();
