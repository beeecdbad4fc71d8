// Draws the figures of a page when they come into view. The library is fetched only then.
(() => {
  "use strict";

  const libraries = new Map();
  const darkScheme = matchMedia("(prefers-color-scheme: dark)");

  // The library writes its few rules into the sheet with this id, or makes an inline one, which
  // the content security policy forbids: a linked sheet takes them instead.
  // A second sheet, for maps, is left out where an element with its id stands: no map is drawn.
  const MAP_SHEET = "9f215cf04c5486422605d13261cb87401f4e7763b6296af81e98efbc0130da53";

  const offerSheet = (address) => new Promise((resolve) => {
    const sheet = document.createElement("link");
    sheet.id = "plotly.js-style-global";
    sheet.rel = "stylesheet";
    sheet.href = address;
    sheet.addEventListener("load", resolve);
    sheet.addEventListener("error", resolve);
    const noMaps = document.createElement("meta");
    noMaps.id = MAP_SHEET;
    document.head.append(sheet, noMaps);
  });

  const loadLibrary = (address, sheet) => {
    if (!libraries.has(address)) {
      libraries.set(address, offerSheet(sheet).then(() => new Promise((resolve, reject) => {
        const script = document.createElement("script");
        script.src = address;
        script.addEventListener("load", () => resolve(window.Plotly));
        script.addEventListener("error", () => reject(new Error(`not loaded: ${address}`)));
        document.head.append(script);
      })));
    }
    return libraries.get(address);
  };

  const token = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

  const axis = (given = {}) => ({
    automargin: true, zeroline: false, ticks: "outside", ticklen: 5, linewidth: 1.5, showline: true,
    separatethousands: true, exponentformat: "none",
    linecolor: token("--ink"), tickcolor: token("--ink"), gridcolor: token("--line"), ...given,
    title: { standoff: 12, ...(typeof given.title === "string" ? { text: given.title } : given.title) },
  });

  const sharedLayout = (given, isNarrow) => {
    const layout = {
      ...given,
      autosize: true,
      title: undefined, // the finding stands above the picture, in words
      paper_bgcolor: "rgba(0,0,0,0)",
      plot_bgcolor: "rgba(0,0,0,0)",
      colorway: ["--slat-half", "--accent", "--slat-shut", "--slat-open"].map(token),
      font: { family: token("--text"), size: isNarrow ? 12 : 14, color: token("--ink") },
      margin: { t: 16, r: 24, b: 48, l: isNarrow ? 44 : 64, ...given.margin },
      hovermode: given.hovermode ?? "closest",
      hoverlabel: { bgcolor: token("--surface"), bordercolor: token("--ink"), font: { color: token("--ink") } },
      dragmode: false,
      showlegend: given.showlegend ?? false,
      legend: { orientation: "h", y: 1.08, x: 0, ...given.legend },
    };
    for (const name of Object.keys(given).filter((key) => /^[xy]axis\d*$/.test(key))) layout[name] = axis(given[name]);
    layout.xaxis ??= axis();
    layout.yaxis ??= axis();
    return layout;
  };

  // A trace may name a token ("--band") wherever it names a colour, so both schemes fit.
  const withColours = (value) => {
    if (typeof value === "string") return /^--[a-z-]+$/.test(value) ? token(value) : value;
    if (Array.isArray(value)) return value.map(withColours);
    if (value && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, withColours(inner)]));
    }
    return value;
  };

  const draw = async (chart) => {
    const place = chart.querySelector(".chart-plot");
    const figure = JSON.parse(document.getElementById(chart.dataset.chart).textContent);
    try {
      const plotly = await loadLibrary(chart.dataset.plotly, chart.dataset.sheet);
      const layout = sharedLayout(withColours(figure.layout ?? {}), place.clientWidth < 560);
      place.replaceChildren();
      await plotly.react(place, withColours(figure.data ?? []), layout, { displayModeBar: false, responsive: true });
      place.dataset.drawn = "yes";
      place.dataset.scheme = darkScheme.matches ? "dark" : "light"; // paper turns a dark drawing round
    } catch {
      place.querySelector(".chart-wait").textContent = chart.dataset.failed;
      chart.querySelector("details")?.setAttribute("open", "");
    }
  };

  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries.filter((one) => one.isIntersecting)) {
      seen.unobserve(entry.target);
      draw(entry.target);
    }
  }, { rootMargin: "200px" });

  const watch = (root) => root.querySelectorAll("[data-chart]").forEach((chart) => seen.observe(chart));
  const redraw = () => document.querySelectorAll("[data-chart]:has([data-drawn])").forEach(draw);

  watch(document);
  document.addEventListener("htmx:load", (event) => watch(event.target));
  darkScheme.addEventListener("change", redraw);
  // Paper shows the numbers as well: a picture alone can't be read off.
  window.addEventListener("beforeprint", () => document.querySelectorAll(".numbers").forEach((d) => { d.open = true; }));
})();
