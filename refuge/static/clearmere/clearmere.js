/* What the browser must do itself. Loaded with defer, after htmx. No inline code anywhere: the page policy forbids it. */
(() => {
  "use strict";
  const body = document.body;

  // A phone on the local network opens the page by plain http, where crypto.randomUUID does not exist.
  const uuid = () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  };
  const fillUuids = (root) => {
    root.querySelectorAll("input[data-uuid]").forEach((input) => { input.value ||= uuid(); });
  };

  // Sent again unchanged, a form keeps its id and is one record. Changed after sending, it is a new record.
  const renewUuids = (form) => {
    if (!form?.dataset.sent) return;
    delete form.dataset.sent;
    form.querySelectorAll("input[data-uuid]").forEach((input) => { input.value = uuid(); });
  };
  document.addEventListener("input", (event) => renewUuids(event.target.form));

  // One request at a time for each form or button. Not `disabled`: that would throw the focus away.
  const busy = (element, on) => {
    if (on) element.setAttribute("aria-busy", "true");
    else element.removeAttribute("aria-busy");
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.hasAttribute("aria-busy")) { event.preventDefault(); event.stopImmediatePropagation(); return; }
    form.dataset.sent = "1";
    if (form.matches("[hx-post],[hx-get],[hx-put],[hx-delete],[hx-patch]")) return;
    busy(form, true);
    setTimeout(busy, 8000, form, false); // an answer that is a file leaves this page where it is
  }, true);
  addEventListener("pageshow", () => document.querySelectorAll("form[aria-busy]").forEach((form) => busy(form, false)));
  body.addEventListener("htmx:beforeRequest", (event) => {
    const { elt, requestConfig } = event.detail;
    if (requestConfig.verb === "get") return;
    if (elt.hasAttribute("aria-busy")) event.preventDefault();
    else busy(elt, true);
  });
  body.addEventListener("htmx:afterRequest", (event) => busy(event.detail.elt, false));
  body.addEventListener("htmx:configRequest", (event) => {
    const { elt, parameters } = event.detail;
    if (elt.hasAttribute("data-uuid-vals")) parameters.uuid = elt.dataset.uuidVals ||= uuid();
  });

  // A line at the foot of the screen, with undo while its time runs. It waits while pointed at or focused.
  const place = document.getElementById("toast");
  const countDown = (toast) => {
    const seconds = Number(toast.dataset.seconds) || 10;
    toast.style.setProperty("--seconds", `${seconds}s`);
    let left = seconds * 1000, since = 0, timer = 0;
    const stop = () => { if (timer) { clearTimeout(timer); timer = 0; left -= Date.now() - since; } };
    const go = () => { if (!timer) { since = Date.now(); timer = setTimeout(() => toast.remove(), left); } };
    ["pointerenter", "focusin"].forEach((name) => toast.addEventListener(name, stop));
    ["pointerleave", "focusout"].forEach((name) => toast.addEventListener(name, go));
    go();
  };
  const say = ({ text, undo, seconds, bad }) => {
    const toast = document.createElement("div");
    toast.className = "toast";
    toast.dataset.seconds = seconds || 10;
    if (bad) toast.dataset.bad = "";
    toast.append(Object.assign(document.createElement("p"), { textContent: text }));
    if (undo) {
      const button = Object.assign(document.createElement("button"), { type: "button", className: "button", textContent: "Undo" });
      button.setAttribute("hx-post", undo);
      button.setAttribute("hx-swap", "none");
      toast.append(button);
    }
    const bar = document.createElement("i");
    bar.className = "countdown";
    toast.append(bar);
    place.replaceChildren(toast);
    window.htmx?.process(toast);
  };
  new MutationObserver((changes) => changes.forEach((change) => change.addedNodes.forEach((node) => {
    if (node.classList?.contains("toast")) countDown(node);
  }))).observe(place, { childList: true });
  body.addEventListener("toast", (event) => say(event.detail));
  body.addEventListener("htmx:sendError", () => say({ text: "Not sent: no connection. What you typed is still here; send it again.", bad: true }));
  body.addEventListener("htmx:timeout", () => say({ text: "No answer yet. Send it again; it will count once.", bad: true }));
  body.addEventListener("htmx:responseError", (event) => say({
    text: event.detail.xhr.status === 403 ? "Not saved: your role may not do this, or the page is too old. Reload it." : "Not saved: something broke on our side. Send it again; it will count once.",
    bad: true,
  }));

  // A session that ended answers with the sign-in page: go there instead of drawing it inside a task.
  const signIn = document.querySelector('meta[name="sign-in"]')?.content;
  body.addEventListener("htmx:beforeSwap", (event) => {
    const { xhr } = event.detail;
    if (signIn && xhr.responseURL && new URL(xhr.responseURL).pathname === signIn) {
      event.detail.shouldSwap = false;
      location.assign(`${signIn}?next=${encodeURIComponent(location.pathname + location.search)}`);
    }
  });

  // After a swap that somebody asked for, the focus goes to the first mistake, else to what wants it if it was lost.
  body.addEventListener("htmx:afterSettle", (event) => {
    const part = event.detail.elt;
    fillUuids(document);
    if (!["click", "submit"].includes(event.detail.requestConfig?.triggeringEvent?.type)) return;
    const wrong = part.querySelector('[aria-invalid="true"]');
    if (wrong) { wrong.focus(); return; }
    if (document.activeElement && document.activeElement !== body) return;
    (part.matches("[data-focus]") ? part : part.querySelector("[data-focus], .task-open"))?.focus();
  });

  // Letters on a number keypad: a tap on the unit gives the full keyboard, so that "3 lb" can be typed.
  document.addEventListener("click", (event) => {
    const unit = event.target.closest("[data-keypad]");
    if (unit) {
      const input = unit.parentElement.querySelector("input");
      input.blur();
      input.inputMode = input.inputMode === "text" ? "decimal" : "text";
      input.focus();
      return;
    }
    const more = document.getElementById("more");
    const link = event.target.closest('a[href="#more"]');
    if (link) { event.preventDefault(); showMore(!more.classList.contains("is-open")); }
    else if (more && !event.target.closest("#more")) showMore(false);
    else if (event.target.closest(".more-close")) { event.preventDefault(); showMore(false); }
  });
  const showMore = (on) => {
    const more = document.getElementById("more");
    const link = document.querySelector('a[href="#more"]');
    if (!more || !link) return;
    more.classList.toggle("is-open", on);
    link.setAttribute("aria-expanded", on);
    if (on) more.focus();
  };
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !document.querySelector("#more.is-open")) return;
    showMore(false);
    document.querySelector('a[href="#more"]').focus();
  });

  // What was unfolded stays so in an answer that takes its place: known by its id, else by its words.
  let unfolded = new Set();
  const nameOf = (fold) => fold.id || fold.querySelector("summary")?.textContent.trim();
  body.addEventListener("htmx:beforeSwap", (event) => {
    unfolded = new Set([...event.detail.target.querySelectorAll("details[open]")].map(nameOf));
  });
  body.addEventListener("htmx:afterSwap", (event) => {
    const folds = [event.target, ...event.target.querySelectorAll("details")].filter((part) => part.matches("details"));
    folds.filter((fold) => unfolded.has(nameOf(fold))).forEach((fold) => { fold.open = true; });
  });

  // On paper everything folded away is needed.
  addEventListener("beforeprint", () => document.querySelectorAll("details:not([open])").forEach((fold) => { fold.open = true; }));

  document.querySelector('a[href="#more"]')?.setAttribute("aria-expanded", "false");
  fillUuids(document);
})();
