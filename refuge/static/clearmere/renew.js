/* On the page of a thing, work is finished in place. What stands around that list (state, facts, history) follows
   from the records too: it is fetched anew, so that the page says nowhere what was true before. */
(() => {
  "use strict";
  const main = document.querySelector("main");
  const around = (root) => {
    const parts = [...root.children], due = parts.findIndex((part) => part.matches(".due-list") || part.querySelector(".due-list"));
    return due < 0 ? null : [parts.slice(0, due), parts.slice(due + 1), parts[due]];
  };
  const isTyped = (parts) => parts.some((part) => part.contains(document.activeElement) && document.activeElement.matches("input, select, textarea"));
  const folds = (parts) => parts.flatMap((part) => [...part.querySelectorAll("details")]);
  const keepUnfolded = (old, fresh) => {
    const now = folds(fresh);
    folds(old).forEach((fold, place) => { if (fold.open && now[place]) now[place].open = true; });
  };

  const renew = (page) => {
    const old = around(main), fresh = around(page);
    if (!old || !fresh) return;
    const charts = [...main.querySelectorAll("[data-chart][data-open]")].map((chart) => chart.dataset.chart);
    [0, 1].forEach((side) => {
      if (isTyped(old[side])) return;
      keepUnfolded(old[side], fresh[side]);
      old[side].forEach((part) => part.remove());
      if (side) old[2].after(...fresh[side]);
      else old[2].before(...fresh[side]);
      fresh[side].forEach((part) => window.htmx.process(part));
    });
    document.dispatchEvent(new CustomEvent("renewed", { detail: charts }));
  };

  document.body.addEventListener("records-changed", async () => {
    const answer = await fetch(location.href).catch(() => null); // without a connection the page stays as it is
    if (!answer?.ok || answer.redirected) return;
    renew(new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main"));
  });
})();
