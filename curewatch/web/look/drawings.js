// The read-out of drawings: a line follows the pointer, the finger or the arrow keys, and the
// values under it are written below. Without this script the sentence below a drawing stays.
"use strict";
(() => {
  const SVG = "http://www.w3.org/2000/svg";
  const STEPS = 175;

  const outputOf = (drawing) => drawing.closest("figure")?.querySelector("output");

  const shop = document.documentElement.dataset; // its zone, its clock, its word for the unknown

  const clock = (at, span) => {
    const half = shop.halfDays !== undefined;
    const form = { hour: "numeric", minute: "2-digit", hour12: half, timeZone: shop.zone };
    if (span > 20 * 3600e3) Object.assign(form, { weekday: "short" });
    if (span > 6 * 24 * 3600e3) Object.assign(form, { day: "numeric", month: "short" });
    return new Intl.DateTimeFormat(document.documentElement.lang, form).format(at);
  };

  let read = null; // which drawing is read off, where, and whether the keyboard is on it

  const nameOf = (drawing) => drawing.getAttribute("aria-labelledby");

  const show = (drawing, share) => {
    read = { name: nameOf(drawing), share, focused: document.activeElement === drawing };
    const known = JSON.parse(drawing.dataset.readOut);
    const count = known.lines[0].values.length;
    const index = Math.round(share * (count - 1));
    const span = known.to - known.from;
    const said = known.lines.map((line) => {
      const value = line.values[index];
      const name = known.lines.length > 1 ? `${line.says} ` : "";
      return name + (value === null ? shop.unknown ?? "—" : `${value.toFixed(1)} ${known.unit}`);
    });
    const output = outputOf(drawing);
    if (output) output.textContent = `${clock(known.from + (span * index) / (count - 1), span)}: ${said.join(", ")}`;
    const box = drawing.viewBox.baseVal;
    const x = (known.left + (known.right - known.left) * share) * box.width;
    let line = drawing.querySelector(".read-line");
    if (!line) {
      line = document.createElementNS(SVG, "line");
      line.setAttribute("class", "read-line");
      line.setAttribute("y1", "18");
      line.setAttribute("y2", String(box.height - 24));
      drawing.append(line);
    }
    line.setAttribute("x1", String(x));
    line.setAttribute("x2", String(x));
    drawing.dataset.share = String(share);
  };

  const hide = (drawing) => {
    read = null;
    drawing.querySelector(".read-line")?.remove();
    delete drawing.dataset.share;
    const output = outputOf(drawing);
    if (output?.dataset.rest !== undefined) output.textContent = output.dataset.rest;
  };

  const shareAt = (drawing, event) => {
    const known = JSON.parse(drawing.dataset.readOut);
    const box = drawing.getBoundingClientRect();
    const place = (event.clientX - box.left) / box.width;
    return Math.min(Math.max((place - known.left) / (known.right - known.left), 0), 1);
  };

  const tell = (spot) => {
    const output = outputOf(spot);
    if (output) output.textContent = spot.dataset.told;
  };

  const drawingAt = (event) => event.target.closest?.("svg[data-read-out]");

  for (const name of ["pointermove", "pointerdown"]) {
    document.addEventListener(name, (event) => {
      const spot = event.target.closest?.(".spot");
      if (spot) return tell(spot);
      const drawing = drawingAt(event);
      if (drawing) show(drawing, shareAt(drawing, event));
    }, { passive: true });
  }
  document.addEventListener("pointerout", (event) => {
    const drawing = drawingAt(event);
    if (drawing && event.pointerType === "mouse" && !drawing.contains(event.relatedTarget)) hide(drawing);
  });
  document.addEventListener("focusin", (event) => {
    const spot = event.target.closest?.(".spot");
    if (spot) tell(spot);
  });
  document.addEventListener("keydown", (event) => {
    const drawing = document.activeElement?.closest?.("svg[data-read-out]");
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!drawing) return;
    if (event.key === "Escape") return hide(drawing);
    if (event.key === "Home") show(drawing, 0);
    else if (event.key === "End") show(drawing, 1);
    else if (step) {
      const share = Number(drawing.dataset.share ?? 1) + (step * (event.shiftKey ? 10 : 1)) / (STEPS - 1);
      show(drawing, Math.min(Math.max(share, 0), 1));
    } else return;
    event.preventDefault();
  });

  document.addEventListener("focusin", (event) => {
    if (read) read.focused = event.target.matches?.("svg[data-read-out]") ?? false;
  });

  // Only with this script has the keyboard something to do on a drawing. Who reads one off while
  // the page renews itself reads on at the same place.
  const ready = () => {
    const before = read;
    for (const drawing of document.querySelectorAll("svg[data-read-out]")) {
      drawing.setAttribute("tabindex", "0");
      if (before && nameOf(drawing) === before.name && drawing.dataset.share === undefined) {
        if (before.focused && document.activeElement === document.body) drawing.focus({ preventScroll: true });
        show(drawing, before.share);
        read.focused = before.focused;
      }
    }
  };
  document.addEventListener("matter", ready);
  ready();
})();
