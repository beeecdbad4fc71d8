// Who writes on this phone: the person signed in, or one who shares the phone and typed a PIN.
// The signed word that a person's entries carry is kept locked with that PIN: the PIN keeps a
// colleague from writing in another's name, not somebody who takes the phone's storage apart.
(() => {
  "use strict";

  const factsElement = document.getElementById("phone-facts");
  if (!factsElement) return;
  const facts = JSON.parse(factsElement.textContent);
  const { words } = facts;
  const NAME = "fleetdoors-people";
  const STORE = "people";
  const CHOICE = "fleetdoors-writer";
  const WORD = "fleetdoors-writer-word";
  const ROUNDS = 600_000;
  const MOST_WRONG_TRIES = 5;
  const FIRST_WAIT = 60_000;

  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_all, name) => values[name] ?? "");
  const asked = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

  let opened = null;
  function database() {
    if (opened) return opened;
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "person" });
    opened = asked(request);
    opened.catch(() => { opened = null; });
    return opened;
  }

  const store = async (mode) => (await database()).transaction(STORE, mode).objectStore(STORE);
  const list = async () => asked((await store("readonly")).getAll());
  const find = async (person) => asked((await store("readonly")).get(person));
  const keep = async (row) => asked((await store("readwrite")).put(row));
  const forget = async (person) => asked((await store("readwrite")).delete(person));

  async function keyFrom(pin, salt, rounds) {
    const typed = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, ["deriveKey"]);
    return crypto.subtle.deriveKey(
      { name: "PBKDF2", hash: "SHA-256", salt, iterations: rounds },
      typed, { name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"]);
  }

  async function add({ person, name, author }, pin) {
    if (!self.crypto?.subtle) throw new Error(words.no_crypto);
    const salt = crypto.getRandomValues(new Uint8Array(16));
    const iv = crypto.getRandomValues(new Uint8Array(12));
    const key = await keyFrom(pin, salt, ROUNDS);
    const sealed = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, key, new TextEncoder().encode(author));
    await keep({ person, name, salt, iv, sealed, rounds: ROUNDS, added_at: Date.now(), wrong: 0, wait_until: 0 });
    choose({ person, name, author });
  }

  // The word for the right PIN; an Error in words for a wrong one, and a longer wait each time.
  async function unlock(person, pin) {
    const row = await find(person);
    const left = Math.ceil((row.wait_until - Date.now()) / 1000);
    if (left > 0) throw new Error(fill(words.wait_pin, { seconds: left }));
    try {
      const key = await keyFrom(pin, row.salt, row.rounds);
      const word = await crypto.subtle.decrypt({ name: "AES-GCM", iv: row.iv }, key, row.sealed);
      await keep({ ...row, wrong: 0, wait_until: 0 });
      return new TextDecoder().decode(word);
    } catch {
      const wrong = row.wrong + 1;
      const over = wrong - MOST_WRONG_TRIES;
      const wait = over < 0 ? 0 : Date.now() + FIRST_WAIT * 2 ** Math.min(over, 10);
      await keep({ ...row, wrong, wait_until: wait });
      throw new Error(fill(words.wrong_pin, { person: row.name }));
    }
  }

  const signedIn = () => ({ person: facts.person, name: facts.authorName, author: facts.author });

  // A choice holds within the session in which it was made; the word itself only within this tab.
  function chosen() {
    const choice = JSON.parse(localStorage.getItem(CHOICE) ?? "null");
    return choice?.session === facts.person && choice.person !== facts.person ? choice : null;
  }

  function current() {
    const choice = chosen();
    if (!choice) return signedIn();
    const word = JSON.parse(sessionStorage.getItem(WORD) ?? "null");
    return { ...choice, author: word?.person === choice.person ? word.author : "" };
  }

  function choose({ person, name, author }) {
    if (person === facts.person) {
      localStorage.removeItem(CHOICE);
      sessionStorage.removeItem(WORD);
    } else {
      localStorage.setItem(CHOICE, JSON.stringify({ session: facts.person, person, name }));
      sessionStorage.setItem(WORD, JSON.stringify({ person, author }));
    }
    tell();
  }

  async function tell() {
    const line = document.getElementById("phone-writer");
    if (!line) return;
    const shared = (await list().catch(() => [])).length > 0;
    const writer = current();
    line.firstElementChild.textContent = fill(writer.author ? words.writes : words.locked, { person: writer.name });
    line.hidden = !shared;
    document.documentElement.dataset.writer = writer.name;
  }

  // Asks for a person's PIN; the word once it is right, null when the person lets it be.
  function ask(person, name) {
    const dialog = document.getElementById("pin-dialog");
    const form = dialog.querySelector("form");
    const error = dialog.querySelector(".field-error");
    const input = form.elements.namedItem("pin");
    dialog.querySelector("label").textContent = fill(words.ask_pin, { person: name });
    error.hidden = true;
    input.value = "";
    dialog.showModal();
    return new Promise((resolve) => {
      const done = (word) => {
        form.onsubmit = null;
        dialog.onclose = null;
        dialog.close();
        resolve(word);
      };
      dialog.onclose = () => done(null);
      dialog.querySelector("[data-cancel]").onclick = () => done(null);
      form.onsubmit = async (event) => {
        event.preventDefault();
        try {
          done(await unlock(person, input.value));
        } catch (refused) {
          error.textContent = refused.message;
          error.hidden = false;
          input.value = "";
          input.focus();
        }
      };
    });
  }

  // Who writes, with the word; a person whose tab was closed in between types the PIN again.
  async function ready() {
    const writer = current();
    if (writer.author) return writer;
    const author = await ask(writer.person, writer.name);
    if (author === null) return null;
    choose({ ...writer, author });
    return current();
  }

  // The sign-off: whoever has a PIN on this phone signs with it and with nothing else.
  const signsByPin = async () => Boolean(await find(current().person).catch(() => null));
  async function sign() {
    const { person, name } = current();
    const author = await ask(person, name);
    if (author === null) return null;
    choose({ person, name, author });
    return { person, name, author };
  }

  self.fleetdoorsWriter = {
    add, list, forget, unlock, current, choose, ready, sign, signsByPin, signedIn, tell, MOST_WRONG_TRIES,
  };
  tell();
})();
