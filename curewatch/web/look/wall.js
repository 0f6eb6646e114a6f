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
  const turn = () => {
    if (performance.now() - touchedAt < STANDS_MS) return;
    const high = document.documentElement.clientHeight;
    const foot = document.documentElement.scrollHeight - high;
    if (foot <= 1) return;
    const top = scrollY >= foot - 1 ? 0 : Math.min(scrollY + high * 0.7, foot);
    scrollTo({ top, behavior: "instant" });
  };
  setInterval(turn, TURN_MS);
})();
