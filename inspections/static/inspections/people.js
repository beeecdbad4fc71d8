// The people who share this phone: added once by PIN with a signal, then one tap and a PIN each.
(() => {
  "use strict";

  const writer = self.fleetdoorsWriter;
  const round = self.fleetdoorsRound;
  const page = document.getElementById("people-page");
  if (!writer || !round || !page) return;
  const facts = JSON.parse(document.getElementById("people-facts").textContent);
  const { words } = facts;
  const { fill } = round;
  const list = document.getElementById("people-list");
  const form = document.getElementById("people-add");
  const DAY = 24 * 3600 * 1000;
  const OLD_DAYS = 75;

  function make(tag, { text, ...properties } = {}, ...children) {
    const made = Object.assign(document.createElement(tag), properties);
    if (text !== undefined) made.textContent = text;
    made.append(...children);
    return made;
  }

  function button(text, act) {
    const made = make("button", { type: "button", className: "button quiet", text });
    made.addEventListener("click", act);
    return made;
  }

  function say(text) {
    const line = document.getElementById("people-said");
    line.textContent = text;
    line.focus();
  }

  function row({ person, name }, words_, ...more) {
    const isNow = writer.current().person === person;
    const head = make("p", {}, make("strong", { text: fill(words_, { person: name }) }));
    if (isNow) head.append(` · ${words.writes_now}`);
    return make("li", { className: "stack" }, head, ...more);
  }

  async function goOn(row_) {
    if (row_.person === round.facts.person) writer.choose(writer.signedIn());
    else {
      writer.choose({ person: row_.person, name: row_.name, author: "" });
      if (!(await writer.ready())) writer.choose(writer.signedIn());
    }
    await show();
    say(fill(round.facts.words.writes, { person: writer.current().name }));
  }

  function added(row_) {
    const days = Math.floor((Date.now() - row_.added_at) / DAY);
    const notes = days >= OLD_DAYS ? [make("p", { className: "help", text: fill(words.old, { days }) })] : [];
    const ways = [];
    if (writer.current().person !== row_.person) ways.push(button(fill(words.switch, { person: row_.name }), () => goOn(row_)));
    ways.push(button(fill(words.take_off, { person: row_.name }), async () => {
      await writer.forget(row_.person);
      if (writer.current().person === row_.person) writer.choose(writer.signedIn());
      await show();
      list.closest("main").focus();
    }));
    return row(row_, words.by_pin, ...notes, ...ways);
  }

  async function show() {
    const own = writer.signedIn();
    const people = (await writer.list()).filter((each) => each.person !== own.person);
    const back = writer.current().person === own.person ? [] : [button(fill(words.switch, { person: own.name }), () => goOn(own))];
    list.replaceChildren(row(own, words.signed_in, ...back), ...people.map(added));
    await writer.tell();
    page.hidden = false;
    list.dataset.shown = people.length;
  }

  async function token() {
    const answer = await fetch(round.facts.entries, { credentials: "same-origin", cache: "no-store" });
    return (await answer.json()).csrf_token;
  }

  async function add() {
    const sent = new FormData(form);
    let answer = null;
    try {
      const csrf = await token();
      answer = await fetch(facts.add, {
        method: "POST", credentials: "same-origin", headers: { "X-CSRFToken": csrf }, body: sent,
      });
    } catch {
      throw new Error(words.needs_signal);
    }
    const told = await answer.json();
    if (!answer.ok) throw new Error(told.message);
    await writer.add(told, sent.get("pin"));
    form.reset();
    await show();
    say(fill(words.added, { person: told.name }));
  }

  form?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const error = document.getElementById("people-error");
    error.hidden = true;
    if (!form.reportValidity()) return;
    try {
      await add();
    } catch (refused) {
      error.textContent = refused.message;
      error.hidden = false;
      form.elements.namedItem("pin").value = "";
      form.elements.namedItem("pin").focus();
    }
  });
  show();
})();
