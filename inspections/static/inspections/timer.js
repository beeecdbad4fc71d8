// Timers beside a field: the hold of the balance, the wait while capacitors discharge, the seconds
// of a travel. What is kept is the moment of the start, so that a reload or a sleeping phone loses
// nothing; what is shown is reckoned from it. A watch in the hand does as well.
(() => {
  "use strict";

  const factsElement = document.getElementById("phone-facts");
  if (!factsElement) return;
  const { words } = JSON.parse(factsElement.textContent);
  const LENGTHS = { hold: 10, discharge: 60 };
  const TRAVELS = ["travel_open_seconds", "travel_close_seconds", "open_seconds", "close_seconds"];
  const HOLDS = ["balance_quarter", "balance_half", "balance_three_quarters", "quarter_mm", "half_mm", "three_quarters_mm"];
  // Left over from another day: nobody stands at that door any more.
  const FORGOTTEN_AFTER = 12 * 3600 * 1000;
  const isCalm = matchMedia("(prefers-reduced-motion: reduce)");

  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_all, name) => values[name] ?? "");
  const running = new Set();

  function make(tag, { text, ...properties } = {}) {
    const made = Object.assign(document.createElement(tag), properties);
    if (text !== undefined) made.textContent = text;
    return made;
  }

  class Timer {
    constructor(host, kind, name, { label = "", field = null } = {}) {
      this.kind = kind;
      this.field = field;
      this.label = label;
      this.key = `fleetdoors-timer:${location.pathname}:${kind}:${name}`;
      this.button = make("button", { type: "button", className: "button quiet" });
      this.button.addEventListener("click", () => this.press());
      this.face = make("span", { className: "timer-face" });
      this.face.setAttribute("role", "timer");
      this.face.setAttribute("aria-live", "off");
      this.said = make("p", { className: "timer-said" });
      this.said.setAttribute("role", "status");
      host.classList.add("timer");
      host.append(this.button, this.face, this.said);
      this.show(this.startedAt() ? "runs" : "rests");
    }

    startedAt() {
      const at = Number(localStorage.getItem(this.key));
      return at && Date.now() - at < FORGOTTEN_AFTER ? at : 0;
    }

    press() {
      const startedAt = this.startedAt();
      if (!startedAt) {
        localStorage.setItem(this.key, String(Date.now()));
        this.show("runs");
      } else if (this.kind === "travel") {
        this.write((Date.now() - startedAt) / 1000);
      } else {
        this.end("rests");
      }
    }

    // To a tenth, as a hand stops it; written into its field as if it had been typed.
    write(seconds) {
      const told = seconds.toFixed(1);
      this.field.value = told;
      this.field.dispatchEvent(new Event("input", { bubbles: true }));
      this.end("over", told);
    }

    end(state, told = "") {
      localStorage.removeItem(this.key);
      this.show(state, told);
      if (state === "over") navigator.vibrate?.([300, 150, 300]);
    }

    show(state, told = "") {
      const values = { name: this.label, seconds: told };
      this.button.dataset.timer = state;
      this.face.textContent = "";
      if (state === "runs") {
        running.add(this);
        this.said.textContent = "";
        this.button.textContent = this.kind === "travel" ? words.travel_stop : words.timer_stop;
        this.tick();
        wake();
        return;
      }
      running.delete(this);
      this.button.textContent = state === "over" ? words.timer_again : fill(words[`${this.kind}_start`], values);
      this.said.textContent = state === "over" ? fill(words[`${this.kind}_over`], values) : "";
    }

    tick() {
      const gone = (Date.now() - this.startedAt()) / 1000;
      const left = (LENGTHS[this.kind] ?? Infinity) - gone;
      if (left <= 0) {
        this.end("over");
        return;
      }
      const shown = this.kind === "travel"
        ? `${isCalm.matches ? Math.floor(gone) : gone.toFixed(1)} s`
        : fill(words[`${this.kind}_runs`], { seconds: Math.ceil(left) });
      if (this.face.textContent !== shown) this.face.textContent = shown;
    }
  }

  let drawn = 0;
  function draw() {
    drawn = 0;
    running.forEach((timer) => timer.tick());
    wake();
  }

  // Drawn with the page's own frames: nothing runs while nobody looks.
  function wake() {
    if (running.size && !drawn) drawn = requestAnimationFrame(draw);
  }

  function beside(form) {
    const find = (name) => form.elements.namedItem(name);
    for (const name of TRAVELS.filter(find)) {
      const field = find(name);
      const host = field.closest(".field").appendChild(make("div"));
      new Timer(host, "travel", name, { field, label: field.labels[0]?.childNodes[0]?.textContent.trim() ?? name });
    }
    const held = HOLDS.map(find).find(Boolean);
    if (!held) return;
    const host = make("div");
    held.closest(".field").before(host);
    new Timer(host, "hold", "balance");
  }

  document.querySelectorAll("[data-timer][data-name]").forEach((host) =>
    new Timer(host, host.dataset.timer, host.dataset.name));
  document.querySelectorAll("form").forEach(beside);
  self.fleetdoorsTimer = { beside, add: (host, kind, name) => new Timer(host, kind, name) };
})();
