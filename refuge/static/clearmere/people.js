/* For the pages about people: copy a link, and guess the time zone from the device. */
(() => {
  "use strict";
  const copied = (button) => {
    const status = document.getElementById(button.getAttribute("aria-describedby"));
    if (status) status.textContent = "Copied.";
  };

  // The clipboard is closed to pages over plain http, as on a local network: there the text is selected and copied.
  const copy = async (button, input) => {
    input.focus();
    input.select();
    if (navigator.clipboard) {
      try { await navigator.clipboard.writeText(input.value); copied(button); return; } catch { /* not allowed: below */ }
    }
    if (document.execCommand("copy")) copied(button);
  };
  document.querySelectorAll("[data-copy]").forEach((button) => {
    const input = document.getElementById(button.dataset.copy);
    button.hidden = false;
    button.addEventListener("click", () => copy(button, input));
  });

  document.querySelectorAll("input[data-guess-zone]").forEach((input) => {
    input.value ||= Intl.DateTimeFormat().resolvedOptions().timeZone || "";
  });
})();
