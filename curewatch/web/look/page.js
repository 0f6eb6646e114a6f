// Live updates: the page asks for itself again when the daemon says that something changed.
// Without this script every view and form works all the same.
"use strict";
(() => {
  const line = document.getElementById("line");
  let generation = Number(document.documentElement.dataset.generation);
  let heardAt = Date.now();
  let lost = false;
  let asking = false;

  const clock = (at) => new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

  const busy = () => {
    const at = document.activeElement;
    return (at && at.closest("main form") && at.matches("input, select, textarea")) ||
      document.querySelector("main form[data-touched]") !== null;
  };

  document.addEventListener("input", (event) => {
    const form = event.target.closest("main form");
    if (form) form.dataset.touched = "yes";
  });

  const heard = () => {
    heardAt = Date.now();
    if (lost) {
      lost = false;
      line.classList.remove("lost");
      line.textContent = line.dataset.back;
    }
  };

  const renew = async () => {
    if (asking || busy() || document.hidden) return;
    asking = true;
    try {
      const answer = await fetch(location.href, { headers: { "X-Live": "yes" }, redirect: "error" });
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      const matter = document.getElementById("matter");
      const held = document.activeElement && document.activeElement.id;
      const open = [...matter.querySelectorAll("details[open][id]")].map((one) => one.id);
      matter.replaceChildren(...fresh.getElementById("matter").childNodes);
      for (const id of open) document.getElementById(id)?.setAttribute("open", "");
      if (held) document.getElementById(held)?.focus({ preventScroll: true });
      generation = Number(fresh.documentElement.dataset.generation);
      document.dispatchEvent(new Event("matter"));
    } catch {
      // the line says so by itself when it stays silent
    } finally {
      asking = false;
    }
  };

  const listen = () => {
    const stream = new EventSource("/live");
    stream.addEventListener("state", (event) => {
      heard();
      if (JSON.parse(event.data).generation !== generation) renew();
    });
    stream.onerror = () => {
      if (stream.readyState === EventSource.CLOSED) setTimeout(listen, 5000);
    };
  };

  setInterval(() => {
    if (!lost && Date.now() - heardAt > 20000) {
      lost = true;
      line.classList.add("lost");
      line.textContent = line.dataset.lost.replace("{at}", clock(heardAt));
    }
  }, 1000);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) renew(); });
  listen();
})();
