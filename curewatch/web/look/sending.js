// Sending a form without losing it: where no answer comes, what was typed stays as it is, and is
// sent again by hand only. Its key sees to it that it is entered once, whatever came of the first.
// Without this script forms are sent by the browser itself.
"use strict";
(() => {
  const PATIENCE_MS = 25000; // the daemon answers or refuses sooner
  const FAULT = 500; // from here on the answer says that something else failed
  const line = document.getElementById("line");
  const matter = document.getElementById("matter");
  let sending = false;

  const tell = (form, words) => {
    let said = form.querySelector(":scope .unsent");
    if (!said) {
      said = document.createElement("p");
      said.className = "warning unsent";
      said.tabIndex = -1;
      said.setAttribute("role", "alert");
      form.append(said);
    }
    said.textContent = words;
    form.dataset.touched = "yes"; // it is not replaced by a fresh page
    said.focus({ preventScroll: true });
    said.scrollIntoView({ block: "nearest", behavior: "instant" });
  };

  const show = (fresh) => {
    matter.replaceChildren(...fresh.getElementById("matter").childNodes);
    document.title = fresh.title;
    document.dispatchEvent(new Event("matter"));
    const wrong = matter.querySelector("[aria-invalid], [role=alert], .unready");
    (wrong ?? matter).scrollIntoView({ block: "center", behavior: "instant" });
    if (wrong?.matches("input, select, textarea")) wrong.focus({ preventScroll: true });
  };

  const isDoor = (url) => new URL(url).pathname === "/enter";

  const take = async (form, answer) => {
    if (answer.redirected && isDoor(answer.url) && !isDoor(location.href)) {
      form.dataset.signedOut = "yes";
      tell(form, line.dataset.signedOut);
      return;
    }
    if (answer.redirected) {
      location.assign(answer.url);
      return;
    }
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const here = fresh.querySelector("#matter[data-live]");
    if (answer.status >= FAULT || !here) {
      const why = fresh.querySelector("#matter .sentence, #matter .warning");
      tell(form, `${line.dataset.refused} ${why?.textContent.trim() ?? answer.status}`);
    } else {
      show(fresh);
    }
  };

  // Whoever came in again meanwhile has another cookie, and their forms carry another token.
  const knownAgain = async (form) => {
    const { token } = await (await fetch("/api/v1/visitor")).json();
    if (!token) return;
    form.elements.namedItem("token").value = token;
    delete form.dataset.signedOut;
  };

  const send = async (form, by) => {
    if (form.dataset.signedOut) await knownAgain(form).catch(() => {});
    const typed = new FormData(form);
    if (by.name) typed.append(by.name, by.value);
    form.querySelector(":scope .unsent")?.remove();
    form.setAttribute("aria-busy", "true");
    sending = true;
    let answer;
    try {
      answer = await fetch(form.action, {
        method: "POST",
        body: new URLSearchParams(typed),
        signal: AbortSignal.timeout?.(PATIENCE_MS),
      });
    } catch {
      const once = form.elements.namedItem("key") !== null;
      tell(form, once ? line.dataset.unsent : line.dataset.unsentLook);
      return;
    } finally {
      sending = false;
      form.removeAttribute("aria-busy");
    }
    await take(form, answer);
  };

  if (!matter.hasAttribute("data-live")) return; // the door is the browser's own
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post" || !event.submitter || !form.closest("main")) return;
    event.preventDefault();
    if (!sending) send(form, event.submitter);
  });
})();
