/* Charts on request: the data stands in the page, the drawing library is fetched only when somebody wants to look.
   Colours named "--water" in the data become what the page's own colour of that name is, in light and in dark. */
(() => {
  "use strict";
  let library = null;
  const fetchLibrary = (address) => library ||= new Promise((done, failed) => {
    const script = Object.assign(document.createElement("script"), { src: address, onload: done, onerror: failed });
    document.head.append(script);
  });

  const coloured = (value, styles) => {
    if (typeof value === "string") return value.startsWith("--") ? styles.getPropertyValue(value).trim() : value;
    if (Array.isArray(value)) return value.map((each) => coloured(each, styles));
    if (value && typeof value === "object") return Object.fromEntries(Object.entries(value).map(([name, each]) => [name, coloured(each, styles)]));
    return value;
  };

  const draw = (chart) => {
    const figure = coloured(JSON.parse(document.getElementById(chart.dataset.chart).textContent), getComputedStyle(document.documentElement));
    figure.layout.font.family = getComputedStyle(document.body).fontFamily;
    const place = chart.querySelector(".chart-place");
    chart.querySelectorAll("[hidden]").forEach((part) => { part.hidden = false; });
    window.Plotly.react(place, figure.data, figure.layout, { displaylogo: false, responsive: true, displayModeBar: false, doubleClick: "reset" });
  };

  const open = async (chart) => {
    if (!chart || chart.hasAttribute("data-open")) return;
    const button = chart.querySelector("button");
    chart.setAttribute("data-open", "");
    button.setAttribute("aria-busy", "true");
    try {
      await fetchLibrary(chart.dataset.plotly);
      draw(chart);
      button.remove();
    } catch {
      library = null;
      chart.removeAttribute("data-open");
      button.removeAttribute("aria-busy");
      button.textContent = "The chart could not be loaded. Try again.";
    }
  };

  const isDesk = matchMedia("(min-width: 60rem)").matches && !navigator.connection?.saveData;
  // On a desk there is room and a line for it: drawn when it comes into view.
  const seen = new IntersectionObserver((entries) => entries.forEach((entry) => { if (entry.isIntersecting) open(entry.target); }), { rootMargin: "200px" });
  const prepare = () => document.querySelectorAll("[data-chart]:not([data-open])").forEach((chart) => {
    chart.querySelector("button").hidden = false;
    if (isDesk) seen.observe(chart);
  });
  prepare();
  document.addEventListener("renewed", (event) => {
    prepare();
    event.detail.forEach((id) => open(document.querySelector(`[data-chart="${id}"]`)));
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-chart] > button");
    if (button) open(button.parentElement);
    if (event.target.closest("[data-print]")) window.print();
  });
  document.querySelectorAll("[data-print]").forEach((button) => { button.hidden = false; });

  const redraw = () => document.querySelectorAll("[data-chart][data-open]").forEach((chart) => { if (window.Plotly) draw(chart); });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
})();
