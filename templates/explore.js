// The pictures of the Explore page. Every number in them is in its tables too; without this file nothing is missing.
"use strict";
(async () => {
  const place = document.getElementById("drawn");
  if (!place || !window.Plotly) return;
  const answer = await fetch(place.dataset.from);
  if (!answer.ok) return;
  const told = await answer.json();
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  const fine = matchMedia("(pointer: fine)").matches;
  const shown = (values) => values.map((one) => (one === null ? null : one / told.scale));
  const unit = told.unit;
  const dashes = ["solid", "dash", "dot", "dashdot", "longdash", "longdashdot", "5px,2px", "2px,2px", "8px,3px"];
  const symbols = ["circle", "square", "diamond", "cross", "x", "triangle-up", "triangle-down", "star", "hexagon"];
  const at = told.spans.map((_, place) => place);
  const labels = told.spans.map((one) => one.label);
  const line = (name, values, number, width) => ({
    name, x: at, y: shown(values), type: "scatter", mode: at.length > 60 ? "lines" : "lines+markers", connectgaps: false,
    text: labels, hovertemplate: "%{text}: %{y:.1f}<extra>%{fullData.name}</extra>",
    line: { dash: dashes[number % dashes.length], width, color: number ? colour("--soft") : colour("--moss") },
    marker: { symbol: symbols[number % symbols.length], size: 6 },
  });
  const lines = [line("Channel", told.channel, 0, 3)];
  if (told.before) lines.push(line(told.before_label, told.before, 2, 2));
  told.modes.forEach((one, number) => lines.push(line(one.label, one.values, number + 3, 1.5)));
  const every = Math.max(1, Math.ceil(at.length / Math.max(3, Math.floor(place.parentElement.clientWidth / 130))));
  const ticks = at.filter((one) => one % every === 0);
  const layout = (more) => ({
    paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { color: colour("--ink"), family: "system-ui, sans-serif" },
    margin: { l: 48, r: 12, t: 32, b: 48 }, height: 340, dragmode: fine ? "select" : false, selectdirection: "h",
    legend: { orientation: "h", y: -0.25 }, ...more,
  });
  const grid = { gridcolor: colour("--line"), zerolinecolor: colour("--line"), fixedrange: true };
  const config = { displayModeBar: false, responsive: true, scrollZoom: false, doubleClick: false, staticPlot: !fine };
  place.hidden = false;
  document.getElementById("brush").hidden = !fine;
  const bySpan = document.getElementById("by-span");
  const byHour = document.getElementById("by-hour");
  for (const one of [bySpan, byHour])
    // A finger scrolls the page: what it does is never handed to the picture.
    for (const kind of ["touchstart", "touchmove", "touchend"])
      one.addEventListener(kind, (event) => event.stopPropagation(), { capture: true, passive: true });
  await Plotly.newPlot(bySpan, lines, layout({
    title: { text: `${told.measure}, ${unit}`, font: { size: 15 } },
    xaxis: { ...grid, tickvals: ticks, ticktext: ticks.map((one) => labels[one]), tickangle: 0 }, yaxis: { ...grid, rangemode: "tozero" },
  }), config);
  await Plotly.newPlot(byHour, [{
    type: "heatmap", z: told.week.map(shown), x: [...Array(24).keys()].map((hour) => `${String(hour).padStart(2, "0")}:00`),
    y: ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"], colorscale: [[0, colour("--strip")], [1, colour("--moss")]],
    hovertemplate: "%{y} %{x}: %{z:.1f}<extra></extra>", colorbar: { thickness: 12 }, hoverongaps: false,
  }], layout({
    title: { text: `Hours of the week, ${told.unit === "per cent" ? "the greatest," : "mean"} ${unit}`, font: { size: 15 } }, dragmode: false,
    xaxis: { ...grid, nticks: 8 }, yaxis: { ...grid, autorange: "reversed" },
  }), config);
  for (const [one, says] of [[bySpan, `${told.measure} by ${told.by}`], [byHour, "Hours of the week"]]) {
    one.setAttribute("role", "img");
    one.setAttribute("aria-label", `${says}; the numbers are in the tables below.`);
  }
  bySpan.on("plotly_selected", (event) => {
    if (!event || !event.range || !event.range.x) return;
    const [low, high] = event.range.x;
    const inside = at.filter((one) => one >= low - 0.5 && one <= high + 0.5);
    if (!inside.length) return;
    const from = told.spans[inside[0]].from, to = told.spans[inside[inside.length - 1]].to;
    const asked = [["from", from], ["to", to]];
    const others = told.second ? inside.map((one) => told.second[one]).filter(([low, high]) => low !== high) : [];
    if (others.length) asked.push(["from2", others[0][0]], ["to2", others[others.length - 1][1]]);
    location.assign(place.dataset.look + asked.map(([name, value]) => `&${name}=${encodeURIComponent(value)}`).join(""));
  });
})();
