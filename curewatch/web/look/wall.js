// A wall view that is longer than its screen turns by itself, a screen at a time; whoever touches
// it or presses a key has it stand for two minutes. Without this script it is scrolled by hand.
"use strict";
(() => {
  const TURN_MS = 12000;
  const STANDS_MS = 120000;
  let touchedAt = -STANDS_MS;
  for (const kind of ["pointerdown", "keydown", "wheel"]) {
    addEventListener(kind, () => { touchedAt = performance.now(); }, { passive: true });
  }
  const ENTRIES = ".entry, .jobs li, .wall-jobs p, .wall-says";
  const HELD = ".wall-top, .line.lost"; // what stays at the upper edge
  const DRIFTS_PX = 8;
  const onward = (high) => { // to the first entry that the lower edge cuts or hides, and its heading
    let from = Infinity;
    for (const entry of document.querySelectorAll(ENTRIES)) {
      if (entry.getBoundingClientRect().bottom <= high) continue;
      const first = entry.matches("ol > :first-child") ? entry.parentElement : entry;
      const head = first.previousElementSibling?.matches("h2") ? first.previousElementSibling : first;
      from = Math.min(from, head.getBoundingClientRect().top);
    }
    const held = [...document.querySelectorAll(HELD)].map((it) => it.offsetHeight);
    const by = from - Math.max(0, ...held) - DRIFTS_PX;
    return Number.isFinite(by) && by >= 1 ? by : high * 0.7; // an entry higher than the screen
  };
  const turn = () => {
    if (performance.now() - touchedAt < STANDS_MS) return;
    const high = document.documentElement.clientHeight;
    const foot = document.documentElement.scrollHeight - high;
    if (foot <= 1) return;
    const top = scrollY >= foot - 1 ? 0 : Math.min(scrollY + onward(high), foot);
    scrollTo({ top, behavior: "instant" });
  };
  setInterval(turn, TURN_MS);
})();
