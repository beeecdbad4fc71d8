// Moving a visit to another night by hand or by keys. The form under each visit does the same
// without a script; this only fills it in and sends it.
(() => {
  "use strict";

  const plan = document.querySelector("[data-plan]");
  if (!plan) return;

  const formOf = (visit) => visit.querySelector("form.plan-move");

  const moveTo = (visit, night) => {
    const form = formOf(visit);
    const choice = form?.querySelector("select");
    if (!choice || choice.value === night && visit.closest("[data-night]")) return;
    choice.value = night;
    if (choice.value === night) form.requestSubmit();
  };

  let held = null;
  document.addEventListener("dragstart", (event) => {
    held = event.target.closest?.("[data-visit]") ?? null;
    if (!held) return;
    event.dataTransfer.setData("text/plain", held.dataset.visit);
    event.dataTransfer.effectAllowed = "move";
    plan.classList.add("is-moving");
  });
  document.addEventListener("dragend", () => {
    held = null;
    plan.classList.remove("is-moving");
    plan.querySelectorAll(".is-target").forEach((night) => night.classList.remove("is-target"));
  });
  plan.addEventListener("dragover", (event) => {
    const night = event.target.closest("[data-night]");
    if (!held || !night) return;
    event.preventDefault();
    plan.querySelectorAll(".is-target").forEach((other) => other.classList.toggle("is-target", other === night));
    night.classList.add("is-target");
  });
  plan.addEventListener("drop", (event) => {
    const night = event.target.closest("[data-night]");
    if (!held || !night) return;
    event.preventDefault();
    moveTo(held, night.dataset.night);
  });

  document.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[event.key];
    if (!event.shiftKey || !step || !event.target.matches?.("[data-visit]")) return;
    const nights = [...plan.querySelectorAll("[data-night]")];
    const at = nights.indexOf(event.target.closest("[data-night]"));
    const next = nights[at < 0 ? 0 : at + step];
    if (!next) return;
    event.preventDefault();
    moveTo(event.target, next.dataset.night);
  });

  // After a move the page comes back at the visit: so does the focus.
  if (location.hash) document.querySelector(location.hash)?.focus();
})();
