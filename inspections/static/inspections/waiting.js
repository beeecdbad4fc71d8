// The list of what waits on this phone and of what the server refused, with what can be done.
(() => {
  "use strict";

  const outbox = self.fleetdoorsOutbox;
  const round = self.fleetdoorsRound;
  const list = document.getElementById("waiting-list");
  if (!outbox || !round || !list) return;
  const writer = self.fleetdoorsWriter;
  const { words } = round.facts;

  function make(tag, { text, ...properties } = {}, ...children) {
    const made = Object.assign(document.createElement(tag), properties);
    if (text !== undefined) made.textContent = text;
    made.append(...children);
    return made;
  }

  const button = (text, act) => {
    const made = make("button", { type: "button", className: "button quiet", text });
    made.addEventListener("click", act);
    return made;
  };

  // Who has both sides before the eyes can decide: nothing is put over the other.
  function differences(entry) {
    const headings = [words.what, words.here, words.there].map((text) =>
      make("th", { scope: "col", text }));
    const rows = entry.differences.map(({ label, here, there }) => make("tr", {},
      ...[label, here, there].map((text) => make("td", { text }))));
    return make("div", { className: "table-scroll", tabIndex: 0, role: "region", ariaLabel: entry.label },
      make("table", { className: "table" },
        make("thead", {}, make("tr", {}, ...headings)), make("tbody", {}, ...rows)));
  }

  const OWN = /(^is_confirmed|^into_open|^signed_with|-label)$/;
  const plainFields = (entry) =>
    Object.entries(entry.fields).filter(([name, value]) => typeof value === "string" && !OWN.test(name));

  function control(entry, id, name, value) {
    const choices = entry.choices?.[name];
    if (!choices) return make("input", { id, name, value, type: "text", autocomplete: "off" });
    const select = make("select", { id, name },
      ...choices.map(([each, text]) => make("option", { value: each, text })));
    select.value = value;
    return select;
  }

  function inputFor(entry, name, value) {
    const id = `entry-${entry.place}-${name}`;
    return make("div", { className: "field" },
      make("label", { htmlFor: id, text: entry.labels?.[name] ?? name }),
      make("div", { className: "control" }, control(entry, id, name, value)));
  }

  // By the same person, with a fresh word where that person writes here now.
  function wordOf(entry) {
    const { person, author } = writer.current();
    return author && person === entry.person ? author : entry.author;
  }

  // What named the refused entry (its photo, the steps of a visit it began) goes with the new one.
  const points = (entry, to) => [entry.about?.of, entry.about?.visit_of].includes(to);
  const pointedAt = (about, from, to) =>
    Object.fromEntries(Object.entries(about).map(([name, value]) => [name, value === from ? to : value]));

  function repointJournal(about, from, to) {
    const key = round.JOURNAL + about.door;
    const journal = JSON.parse(localStorage.getItem(key) ?? "null");
    if (!journal) return;
    const items = journal.items.map((item) => (item.client_id === from ? { ...item, client_id: to } : item));
    const root = journal.root?.visit_of === from ? { visit_of: to } : journal.root;
    localStorage.setItem(key, JSON.stringify({ ...journal, root, items }));
  }

  function afresh(entry, changes) {
    const again = { ...entry, ...changes, client_id: crypto.randomUUID(), author: wordOf(entry), state: outbox.WAITING };
    delete again.refusal;
    delete again.differences;
    delete again.saved;
    repointJournal(entry.about, entry.client_id, again.client_id);
    return again;
  }

  // A corrected entry is another one, with its own id: what was refused is on record as it was.
  async function resend(entry, changes) {
    const again = afresh(entry, changes);
    await outbox.put(again);
    for (const each of await outbox.list()) {
      if (!points(each, entry.client_id)) continue;
      const about = pointedAt(each.about, entry.client_id, again.client_id);
      if (each.state === outbox.REFUSED) await resend(each, { about });
      else await outbox.put({ ...each, about });
    }
  }

  async function sendAgain(entry, fields) {
    await resend(entry, { fields });
    await round.sendAll();
    await show();
  }

  async function asFile(entry) {
    const { photo, author, ...plain } = entry;
    const kept = { ...plain };
    if (photo) {
      kept.photo = await new Promise((resolve) => {
        const reader = new FileReader();
        reader.onload = () => resolve(reader.result);
        reader.readAsDataURL(photo);
      });
    }
    return new Blob([JSON.stringify(kept, null, 2)], { type: "application/json" });
  }

  async function save(entry) {
    const href = URL.createObjectURL(await asFile(entry));
    make("a", { href, download: `${entry.kind}-${entry.client_id}.json` }).click();
    URL.revokeObjectURL(href);
    await outbox.put({ ...entry, saved: true });
    await show();
    document.getElementById(`remove-${entry.place}`)?.focus();
  }

  async function remove(entry) {
    await outbox.remove(entry.place);
    await round.tellWaiting();
    await show();
    list.closest("main").focus();
  }

  function corrections(entry) {
    const fields = plainFields(entry);
    const form = make("form", { className: "stack" },
      ...fields.map(([name, value]) => inputFor(entry, name, value)),
      make("button", {
        type: "submit", className: "button", text: fields.length ? words.correct : words.send_again,
      }));
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      // Looked at and sent again by a person: an unusual value is meant.
      const joins = entry.kind === "visit_plan" && entry.differences?.length ? { into_open: "1" } : {};
      sendAgain(entry, { ...entry.fields, ...Object.fromEntries(new FormData(form)), ...joins, is_confirmed: "1" });
    });
    return form;
  }

  function item(entry) {
    const head = round.fill(words.made_by, {
      label: entry.label, moment: round.moment(entry.happened_at), author: entry.author_name,
    });
    const parts = [make("p", { className: "waiting-head", text: head })];
    if (entry.state === outbox.REFUSED) {
      parts.push(make("p", { className: "field-error", text: round.fill(words.refused_because, { reason: entry.refusal }) }));
      if (entry.differences?.length) parts.push(differences(entry));
      parts.push(corrections(entry));
    }
    parts.push(make("div", { className: "form-actions" }, button(words.save, () => save(entry))));
    // Only what is safe in a file may leave the phone without having arrived.
    if (entry.saved) {
      parts.at(-1).append(Object.assign(button(words.remove, () => remove(entry)), { id: `remove-${entry.place}` }));
    }
    return make("li", { className: entry.state }, ...parts);
  }

  async function show() {
    const entries = await outbox.list();
    list.replaceChildren(...entries.map(item));
    list.hidden = entries.length === 0;
    document.getElementById("waiting-none").hidden = entries.length > 0;
    document.getElementById("send-now").hidden = !entries.some((each) => each.state === outbox.WAITING);
    list.dataset.shown = entries.length;
  }

  // What is being typed into a correction is not swept away by a change elsewhere.
  const isTyping = () => list.contains(document.activeElement) && document.activeElement.matches("input, select");
  outbox.changes.addEventListener("message", () => { if (!isTyping()) show(); });
  document.getElementById("send-now").addEventListener("click", async () => {
    await round.sendAll();
    await show();
  });
  show();
})();
