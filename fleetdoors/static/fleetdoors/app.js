// Small helps that a page also works without.
(() => {
  "use strict";

  const isTyping = (element) => element.matches("input, select, textarea, [contenteditable]");

  document.addEventListener("keydown", (event) => {
    if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || isTyping(event.target)) return;
    const box = document.querySelector("[data-jump]");
    if (!box) return;
    event.preventDefault();
    box.focus();
    box.select();
  });

  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) window.print();
  });

  // In a grid that is keyed from paper, Enter goes on to the next box instead of sending.
  document.addEventListener("keydown", (event) => {
    const grid = event.key === "Enter" && event.target.closest("[data-grid] table");
    if (!grid || event.target.matches("button")) return;
    event.preventDefault();
    const boxes = [...grid.querySelectorAll("input")];
    boxes[boxes.indexOf(event.target) + 1]?.focus();
  });

  // A new depot is most often where the person sits; a choice made by hand or sent before stays.
  document.querySelectorAll("select[data-own-zone]").forEach((select) => {
    const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
    const isAsServed = select.value === "UTC" && !document.querySelector("[data-focus]");
    if (isAsServed && select.querySelector(`option[value="${zone}"]`)) select.value = zone;
  });

  // A page that comes back with errors puts the reader at their list.
  document.querySelector("[data-focus]")?.focus();

  // A screen on the wall is taken anew by itself; one that somebody walks through by keyboard waits.
  const wall = document.querySelector("[data-reload]");
  if (wall) {
    setInterval(() => {
      if (document.activeElement === document.body) location.reload();
    }, Number(wall.dataset.reload) * 1000);
  }

  // An answer that did not arrive is said in words, never swallowed.
  const sayFailure = () => {
    const note = document.getElementById("connection-note");
    if (note) note.hidden = false;
  };
  document.addEventListener("htmx:sendError", sayFailure);
  document.addEventListener("htmx:responseError", sayFailure);
  document.addEventListener("htmx:afterRequest", (event) => {
    const note = document.getElementById("connection-note");
    if (note && event.detail.successful) note.hidden = true;
  });
})();
