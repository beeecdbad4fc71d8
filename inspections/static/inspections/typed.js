// What a quantity can read and what a hurried thumb may have meant: the rules of
// inspections/typed_values.py over the same figures, so that a slip is asked about without a signal.
(() => {
  "use strict";

  const inside = (value, [low, high]) => value >= (low ?? -Infinity) && value <= (high ?? Infinity);
  const rounded = (value) => Number(value.toFixed(9));

  // `typedValues` is what typed_values_as_json gives. Returns { verdict, suggestion, low, high }.
  function check(typedValues, quantity, value, supplyVolts = typedValues.usual_supply_volts) {
    const bounds = typedValues.bounds[quantity];
    const factor = bounds.grows_with_supply ? supplyVolts / typedValues.usual_supply_volts : 1;
    const grown = (band) => band.map((each) => (each === null ? null : each * factor));
    const [usual, soft, hard] = [bounds.usual, bounds.soft, bounds.hard].map(grown);
    const asks = typedValues.ask_about_point.includes(quantity) && !inside(value, usual);
    const suggestion = asks
      ? [rounded(value * 10), rounded(value / 10)].find((each) => inside(each, usual)) ?? null
      : null;
    if (!Number.isFinite(value) || !inside(value, hard)) {
      return { verdict: "impossible", suggestion, low: hard[0], high: hard[1] };
    }
    const isDoubtful = suggestion !== null || !inside(value, soft);
    return { verdict: isDoubtful ? "doubtful" : "ok", suggestion, low: soft[0], high: soft[1] };
  }

  self.fleetdoorsTyped = { check };
})();
