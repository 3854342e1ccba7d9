// Forms that survive a lost signal, a closed tab, an empty battery and a double press.
// A form with data-keep is kept on this device with every change, sent once under its key,
// and waits in an outbox while there is no signal. Without this script it is a plain form.
"use strict";
const Dock = (() => {
  const words = document.getElementById("outbox");
  const RETRY = 20000; // ms
  let opening = null, sending = false;

  // What waits: one store in IndexedDB, which holds photographs as well.
  function store(mode, act) {
    opening ||= new Promise((done, failed) => {
      const asked = indexedDB.open("dock", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("outbox", { keyPath: "key" });
        asked.result.createObjectStore("photos");
      };
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => failed(asked.error);
    });
    return opening.then((base) => new Promise((done, failed) => {
      const turn = base.transaction(["outbox", "photos"], mode);
      const answer = act(turn);
      turn.oncomplete = () => done(answer && answer.result);
      turn.onerror = turn.onabort = () => failed(turn.error);
    }));
  }
  const waiting = () => store("readonly", (turn) => turn.objectStore("outbox").getAll());
  const put = (entry) => store("readwrite", (turn) => turn.objectStore("outbox").put(entry));
  const drop = (key) => store("readwrite", (turn) => turn.objectStore("outbox").delete(key));
  const keepPhotos = (name, files) => store("readwrite", (turn) => turn.objectStore("photos").put(files, name));
  const photosOf = (name) => store("readonly", (turn) => turn.objectStore("photos").get(name));
  const dropPhotos = (name) => store("readwrite", (turn) => turn.objectStore("photos").delete(name));

  // Drafts: every change, by form.
  const draftName = (form) => `draft:${form.dataset.keep}`;
  const NOT_KEPT = new Set(["csrfmiddlewaretoken", "version", "happened_at", "scan"]);
  function keep(form) {
    const values = [...new FormData(form)].filter(([name, value]) =>
      typeof value === "string" && !NOT_KEPT.has(name) && !name.endsWith("-expected"));
    localStorage.setItem(draftName(form), JSON.stringify({ values, at: Date.now() }));
  }
  function forget(name) {
    localStorage.removeItem(`draft:${name}`);
    return dropPhotos(name);
  }
  function restore(form) {
    const draft = JSON.parse(localStorage.getItem(draftName(form)) || "null");
    if (!draft) return;
    fill(form, draft.values);
  }
  function fill(form, values) {
    const said = new Map(values);
    for (const input of form.elements) {
      if (!input.name || NOT_KEPT.has(input.name) || input.name.endsWith("-expected")) continue;
      if (input.type === "file" || input.type === "submit") continue;
      if (input.type === "radio") {
        if (said.has(input.name)) input.checked = said.get(input.name) === input.value;
      } else if (input.type === "checkbox") input.checked = said.has(input.name);
      else if (said.has(input.name)) input.value = said.get(input.name);
    }
    for (const part of form.querySelectorAll("details")) {
      part.open ||= [...part.querySelectorAll("input:not([type=hidden]):not([type=checkbox]):not([type=radio])")].some((one) => one.value);
    }
    form.dispatchEvent(new CustomEvent("filled"));
  }
  async function restorePhotos(form) {
    const input = form.querySelector("input[type=file][name=photo]");
    const files = input && await photosOf(form.dataset.keep);
    if (!files || !files.length) return;
    const carried = new DataTransfer();
    files.forEach((file) => carried.items.add(file));
    input.files = carried.files;
  }

  // Sending: the key makes it one act, however often it is tried.
  function entryOf(form) {
    const body = [...new FormData(form)].filter(([name, value]) => typeof value === "string" || value.size);
    return {
      key: form.elements.key.value, name: form.dataset.keep, what: form.dataset.what, url: form.action || location.href,
      page: location.pathname, user: form.dataset.user, person: form.dataset.name, at: Date.now(), body,
    };
  }
  async function post(entry, token) {
    const body = new FormData();
    for (const [name, value] of entry.body) {
      if (name !== "csrfmiddlewaretoken") body.append(name, value);
    }
    body.append("csrfmiddlewaretoken", token);
    const answer = await fetch(entry.url, { method: "POST", body, credentials: "same-origin" });
    if (answer.status >= 500) throw new Error(`answered ${answer.status}`);
    return answer;
  }
  async function token() {
    const answer = await fetch(words.dataset.token, { headers: { Accept: "application/json" }, cache: "no-store" });
    if (answer.redirected || !answer.ok) return null; // nobody is signed in
    return answer.json();
  }
  const isIn = (answer) => answer.ok && answer.redirected && !new URL(answer.url).pathname.startsWith("/sign-in");
  function noteSent() {
    localStorage.setItem("dock-sent", String(Date.now()));
  }

  async function submit(form) {
    form.elements.happened_at.value = new Date().toISOString();
    keep(form);
    const entry = entryOf(form), buttons = form.querySelectorAll("button.act");
    buttons.forEach((button) => { button.disabled = true; });
    sending = true;
    show(words.dataset.sending, true);
    try {
      await put(entry);
      const answer = await post(entry, form.elements.csrfmiddlewaretoken.value);
      if (answer.status === 403) { sending = false; await sendAll(); return; } // the token was old
      await drop(entry.key);
      if (isIn(answer)) {
        noteSent();
        await forget(entry.name);
        location.assign(answer.url);
        return;
      }
      await showRefusal(answer);
    } catch {
      form.classList.add("sent-later"); // no signal: it waits
    } finally {
      sending = false;
      buttons.forEach((button) => { button.disabled = false; });
      say();
    }
  }
  async function showRefusal(answer) {
    const shown = new DOMParser().parseFromString(await answer.text(), "text/html");
    document.querySelector("main").replaceWith(document.adoptNode(shown.querySelector("main")));
    window.scrollTo(0, 0);
    start();
    document.querySelector(".problems")?.setAttribute("tabindex", "-1");
    document.querySelector(".problems")?.focus();
  }

  async function sendAll() {
    if (sending || !navigator.onLine) return;
    const entries = (await waiting()).sort((one, other) => one.at - other.at);
    if (!entries.length) return;
    sending = true;
    try {
      const who = await token();
      for (const entry of who ? entries : []) {
        if (entry.user !== String(who.user)) continue;
        await sendOne(entry, who.token);
      }
    } catch { /* still no signal */ } finally {
      sending = false;
      say();
    }
  }
  async function sendOne(entry, csrf) {
    const answer = await post(entry, csrf);
    if (answer.redirected && !isIn(answer)) return;
    if (answer.status === 403) return;
    await drop(entry.key);
    if (isIn(answer)) {
      noteSent();
      await forget(entry.name);
      if (document.querySelector(`[data-keep="${entry.name}"]`)) location.assign(answer.url);
    } else localStorage.setItem(`refused:${entry.page}`, entry.what); // its draft is still in its form
  }

  // Words.
  async function say() {
    if (!words.isConnected) return say.again();
    const entries = await waiting().catch(() => []);
    const last = Number(localStorage.getItem("dock-sent"));
    const parts = [entries.length === 0 ? words.dataset.none
      : entries.length === 1 ? words.dataset.one : words.dataset.many.replace("COUNT", entries.length)];
    const hour = new Date(last).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
    parts.push(last ? words.dataset.last.replace("TIME", hour) : words.dataset.never);
    const others = [...new Set(entries.filter((one) => one.user !== me()).map((one) => one.person))];
    if (others.length && me()) parts.push(words.dataset.person.replace("NAME", others.join(", ")));
    let text = parts.join(", ") + ".";
    if (!navigator.onLine) text = `${words.dataset.off}. ${text}`;
    for (const page of refusedPages()) text += ` ${words.dataset.refused} (${localStorage.getItem(page)})`;
    if (!window.isSecureContext) text += ` ${words.dataset.plain}`;
    show(text, entries.length > 0 || !navigator.onLine);
  }
  // At the top of the page, and beside the button while there is something to say.
  function show(text, waits) {
    words.textContent = text;
    words.classList.toggle("waits", waits);
    for (const echo of document.querySelectorAll("[data-echo]")) {
      echo.textContent = waits ? text : "";
      echo.classList.toggle("waits", waits);
    }
  }
  say.again = () => {
    const fresh = document.getElementById("outbox");
    if (fresh) { fresh.replaceWith(words); return say(); }
    return undefined;
  };
  const me = () => document.querySelector("[data-user]")?.dataset.user;
  const refusedPages = () => Object.keys(localStorage).filter((name) => name.startsWith("refused:"));

  function start() {
    const done = document.querySelector("[data-done]");
    if (done) forget(done.dataset.done);
    localStorage.removeItem(`refused:${location.pathname}`);
    for (const form of document.querySelectorAll("form[data-keep]")) {
      if (form.dataset.fresh === "yes") restore(form);
      restorePhotos(form);
      form.addEventListener("input", () => keep(form));
      form.addEventListener("change", (event) => {
        keep(form);
        if (event.target.name === "photo") keepPhotos(form.dataset.keep, [...event.target.files]);
      });
      form.addEventListener("submit", (event) => {
        if (event.submitter && event.submitter.hasAttribute("formaction")) return;
        event.preventDefault();
        if (!form.querySelector("button.act").disabled) submit(form);
      });
    }
    document.dispatchEvent(new CustomEvent("dock-ready"));
    say();
  }
  // Scanners that type send Ctrl+] for the separator, which an input would drop.
  document.addEventListener("keydown", (event) => {
    if (!event.ctrlKey || event.key !== "]" || !event.target.matches("[data-scan]")) return;
    event.preventDefault();
    event.target.setRangeText("␝", event.target.selectionStart, event.target.selectionEnd, "end");
  });
  // Whoever signs out leaves no pages behind; figures half typed stay, for a manager to take over.
  document.querySelector("form.who")?.addEventListener("submit", async (event) => {
    if (!("caches" in window)) return;
    event.preventDefault();
    const names = await caches.keys();
    await Promise.all(names.filter((name) => name.startsWith("dock-")).map((name) => caches.delete(name)));
    event.target.submit();
  });
  async function lookAfterPages() {
    if (!("serviceWorker" in navigator)) return;
    await navigator.serviceWorker.register(words.dataset.worker, { scope: words.dataset.scope });
    await navigator.serviceWorker.ready;
    for (const link of document.querySelectorAll("[data-delivery]")) {
      fetch(link.pathname).catch(() => undefined); // kept by the worker, so that it opens later
    }
  }
  if (words) {
    start();
    window.addEventListener("online", sendAll);
    window.addEventListener("offline", say);
    setInterval(sendAll, RETRY);
    sendAll();
    lookAfterPages().catch(() => undefined);
  }
  return { fill, keep, say };
})();
