// The account of a fault without a signal: the modes of the component chosen, and what a search on
// this phone has found already. With a signal the server offers both.
(() => {
  "use strict";

  const round = self.fleetdoorsRound;
  const form = document.querySelector("form[data-offline=fault]");
  if (!round || !form) return;
  const field = (name) => form.elements.namedItem(name);

  const has = (select, value) => [...select.options].some((option) => option.value === value);
  const asked = new URLSearchParams(location.search);

  function takeFromAddress() {
    for (const name of ["complaint", "component", "mode"]) {
      const value = asked.get(name);
      const select = field(name);
      if (value && select && !select.value && has(select, value)) select.value = value;
    }
  }

  async function offerModes() {
    const shop = await round.shopFacts();
    const select = field("mode");
    if (!shop || !select) return;
    const { value } = select;
    const component = field("component").value;
    const own = shop.modes.filter((mode) => !component || mode.component === component);
    const options = own.map(({ code, name }) => Object.assign(document.createElement("option"), { value: code, textContent: name }));
    select.replaceChildren(select.options[0], ...options);
    select.value = has(select, value) ? value : "";
  }

  // No advice comes from a server that is not there: nothing is asked, nothing is said to have failed.
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (navigator.onLine || !form.contains(event.target)) return;
    event.preventDefault();
    offerModes();
  });
  takeFromAddress();
})();
