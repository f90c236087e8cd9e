// Saves a page load, and loses no result where reception is bad: every form works without it.
"use strict";
(() => {
  const KEPT = "advisor-unsent";
  const PATIENCE = 15000;
  const AGAIN = [2000, 5000, 10000, 20000];
  let memory = null; // where the browser keeps nothing
  let sending = false;
  let tries = 0;
  let timer = 0;

  const kept = () => {
    try {
      return JSON.parse(localStorage.getItem(KEPT)) || memory;
    } catch {
      return memory;
    }
  };
  const keep = (item) => {
    memory = item;
    try {
      if (item) localStorage.setItem(KEPT, JSON.stringify(item));
      else localStorage.removeItem(KEPT);
    } catch {
      // The result is still in memory, and is sent as long as this page is open.
    }
  };

  const banner = (text, ...controls) => {
    const box = document.getElementById("unsent");
    const said = document.createElement("span");
    said.textContent = text;
    box.replaceChildren(said, ...controls);
    box.hidden = !text;
  };
  const control = (label, act) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.addEventListener("click", act);
    return button;
  };
  const wait = (status) => {
    if (status === 401) {
      banner(`Not sent yet: ${kept().said}. Sign in again, and it goes out.`, link(`/sign-in?next=${backTo()}`, "Sign in"));
      return;
    }
    banner(
      `Not sent yet: ${kept().said}. It is kept here and goes out by itself.`,
      control("Send now", () => send()),
      control("Drop it", () => { keep(null); clearTimeout(timer); banner(""); }),
    );
    clearTimeout(timer);
    timer = setTimeout(send, AGAIN[Math.min(tries++, AGAIN.length - 1)]);
  };

  const backTo = () => encodeURIComponent(kept().page);

  // After signing in again the secret of the session's forms is another one.
  const signed = (body) => {
    const secret = document.querySelector("input[name=csrf]");
    const fields = new URLSearchParams(body);
    if (secret && fields.has("csrf")) fields.set("csrf", secret.value);
    return fields;
  };

  // A server that could not write says so with 5xx; only what it has answered otherwise is done with.
  const answered = (response) => response.status < 500 && ![401, 403, 408, 429].includes(response.status);

  async function send() {
    const item = kept();
    if (!item || sending) return;
    sending = true;
    const giveUp = new AbortController();
    const patience = setTimeout(() => giveUp.abort(), PATIENCE);
    try {
      const response = await fetch(item.url, {
        method: "POST",
        body: signed(item.body),
        signal: giveUp.signal,
      });
      const text = await response.text();
      if (!answered(response)) {
        wait(response.status);
        return;
      }
      keep(null);
      tries = 0;
      if (item.page === location.pathname) show(response, text);
      else banner(`Sent now: ${item.said}.`, link(response.url, "See the case"));
    } catch {
      wait(); // no reception, or no answer in time: the same nonce goes again
    } finally {
      clearTimeout(patience);
      sending = false;
    }
  }

  const link = (address, label) => {
    const made = document.createElement("a");
    made.href = address;
    made.textContent = label;
    return made;
  };

  function show(response, text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    document.title = page.title;
    document.querySelector("link[rel=alternate]")?.remove();
    document.head.append(...page.querySelectorAll("link[rel=alternate]"));
    document.body.replaceWith(page.body);
    if (response.redirected) history.pushState(null, "", response.url);
    scrollTo(0, 0);
    document.getElementById("main").focus({ preventScroll: true });
    dress();
  }

  addEventListener("submit", (event) => {
    const form = event.target;
    // Only what belongs to a case is kept: a token that is typed in never is.
    if (form.method !== "post" || !form.getAttribute("action").startsWith("/cases")) return;
    event.preventDefault();
    if (kept()) {
      if (!sending) send();
      return;
    }
    const data = new URLSearchParams(new FormData(form));
    const button = event.submitter;
    if (button && button.name) data.append(button.name, button.value);
    const said = (button ? button.textContent : "").trim().replace(/\s+/g, " ");
    keep({ url: form.getAttribute("action"), body: data.toString(), said, page: location.pathname });
    form.setAttribute("aria-busy", "true");
    send();
  });
  addEventListener("online", () => send());
  addEventListener("popstate", () => location.reload());

  // The keypad has a minus, which a phone's own may lack.
  const press = (key) => {
    const input = document.getElementById("reading");
    input.value = key === "back" ? input.value.slice(0, -1) : key === "OL" ? "OL" : input.value + key;
  };
  addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]");
    if (key) press(key.dataset.key);
    if (event.target.closest("[data-print]")) print();
  });
  addEventListener("focusin", (event) => {
    const pad = document.querySelector(".keypad");
    if (pad) pad.hidden = !event.target.closest(".reading");
  });

  // A condition that ends by itself is counted down from when it is begun; the next step may still be in time.
  let begun = null;
  const left = (timer) => {
    const past = (Date.now() - begun.at) / 1000;
    if (past < timer.dataset.after) return `Wait ${Math.ceil(timer.dataset.after - past)} s`;
    if (past < timer.dataset.until) return `${Math.ceil(timer.dataset.until - past)} s left`;
    return `Time is over: ${timer.dataset.start} again`;
  };
  const tick = () => {
    const timer = document.querySelector(".timer");
    if (timer && begun && begun.start === timer.dataset.start) timer.querySelector("output").textContent = left(timer);
  };
  setInterval(tick, 250);
  const dressTimer = (timer) => {
    const said = document.createElement("output");
    said.setAttribute("role", "timer");
    timer.append(" ", control("Start the time", () => { begun = { start: timer.dataset.start, at: Date.now() }; tick(); }), " ", said);
    tick();
  };

  const dress = () => {
    document.querySelectorAll(".timer").forEach(dressTimer);
    const touched = matchMedia("(pointer: coarse)").matches;
    const input = document.getElementById("reading");
    if (input && touched) input.inputMode = "none"; // the page's own keypad comes instead
    for (const button of document.querySelectorAll("[data-print]")) button.hidden = false;
    for (const time of document.querySelectorAll("time")) {
      time.textContent = new Date(time.dateTime).toLocaleString([], { dateStyle: "short", timeStyle: "short" });
    }
  };

  // The screen stays awake while a case is open on it.
  const stayAwake = async () => {
    if (!navigator.wakeLock || document.visibilityState !== "visible" || !location.pathname.startsWith("/cases/")) return;
    try {
      await navigator.wakeLock.request("screen");
    } catch {
      // An empty battery may refuse it; the page works all the same.
    }
  };
  addEventListener("visibilitychange", stayAwake);

  dress();
  stayAwake();
  if (kept()) send();
})();
