// Live updates: the page asks for itself again when the daemon says that something changed.
// Without this script every view and form works all the same.
"use strict";
(() => {
  const LOST_AFTER_MS = 20000;
  const AGAIN_AFTER_MS = 5000;
  const line = document.getElementById("line");
  const matter = document.getElementById("matter");
  if (!matter.hasAttribute("data-live")) return;
  let generation = Number(document.documentElement.dataset.generation);
  let newest = generation;
  let currentAt = Date.now(); // when what stands here was last known to hold
  let renewedAt = Date.now();
  let lost = false;
  let held = false; // still, because somebody fills in a form
  let asking = false;

  const clock = (at) => new Date(at).toLocaleTimeString([], {
    hour: "2-digit", minute: "2-digit", hour12: line.dataset.clock === "12",
  });

  // Whoever fills in a form keeps it as it is.
  const busy = () => {
    const at = document.activeElement;
    return (at !== null && at.matches("main form :is(input, select, textarea)")) ||
      document.querySelector("main form[data-touched], main [data-still]") !== null;
  };

  document.addEventListener("input", (event) => {
    const form = event.target.closest("main form");
    if (form) form.dataset.touched = "yes";
  });

  const holds = () => {
    currentAt = Date.now();
    if (held && generation === newest) {
      held = false;
      line.textContent = "";
    }
    if (!lost) return;
    lost = false;
    line.classList.remove("lost");
    line.textContent = line.dataset.back;
  };

  const holdStill = () => {
    holds(); // the daemon is there
    held = true;
    line.textContent = line.dataset.held.replace("{at}", clock(renewedAt));
  };

  // Where the focus is: by id, else by its place among its siblings, from `main` down.
  const placeOf = (element) => {
    const steps = [];
    for (let at = element; at !== matter; at = at.parentElement) {
      steps.unshift([...at.parentElement.children].indexOf(at));
    }
    return { id: element.id, tag: element.tagName, steps };
  };

  const focusAgain = (place) => {
    let at = document.getElementById(place.id);
    if (!at) {
      at = matter;
      for (const step of place.steps) at = at?.children[step];
    }
    if (at && at.tagName === place.tag) at.focus({ preventScroll: true });
  };

  const put = (fresh) => {
    const at = document.activeElement;
    const place = at !== null && at !== matter && matter.contains(at) ? placeOf(at) : null;
    const open = [...matter.querySelectorAll("details[open][id]")].map((one) => one.id);
    matter.replaceChildren(...fresh.getElementById("matter").childNodes);
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    if (place) focusAgain(place);
    generation = newest = Number(fresh.documentElement.dataset.generation);
    renewedAt = Date.now();
    document.dispatchEvent(new Event("matter"));
  };

  const renew = async () => {
    if (asking || document.hidden) return;
    if (busy()) {
      holdStill();
      return;
    }
    asking = true;
    try {
      const answer = await fetch(location.href, { redirect: "manual" });
      if (answer.type === "opaqueredirect") {
        location.reload(); // signed out: the door is shown
      } else if (answer.ok) {
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
        if (busy()) {
          holdStill();
        } else {
          put(fresh);
          holds();
        }
      }
    } catch {
      // the line says so by itself when it stays silent
    } finally {
      asking = false;
    }
  };

  const listen = () => {
    const stream = new EventSource("/live");
    stream.addEventListener("state", (event) => {
      newest = JSON.parse(event.data).generation;
      if (newest === generation) holds();
      else renew();
    });
    stream.onerror = () => {
      if (stream.readyState !== EventSource.CLOSED) return; // it tries again by itself
      renew(); // who was signed out is shown the door
      setTimeout(listen, AGAIN_AFTER_MS);
    };
  };

  setInterval(() => {
    if (lost || Date.now() - currentAt <= LOST_AFTER_MS) return;
    lost = true;
    line.classList.add("lost");
    line.textContent = line.dataset.lost.replace("{at}", clock(currentAt));
  }, 1000);
  document.addEventListener("visibilitychange", renew);
  addEventListener("pageshow", (event) => { if (event.persisted) renew(); });
  listen();
})();
