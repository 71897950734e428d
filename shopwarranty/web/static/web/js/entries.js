// Forms marked data-draft: what is pressed is stored on this phone first, then sent, in order, with an id made here, so
// that it is kept once however often it is sent. What the server refuses stays, with its words; what follows it on the
// same panel waits. Without this script, or where the browser lends no room, the form is sent as any other.
(() => {
  if (!sealed) return;
  const { box, member } = sealed, { dataset } = box;
  const line = document.getElementById("unsent-line"), rows = document.getElementById("unsent-rows");
  const others = document.getElementById("unsent-others"), template = document.getElementById("unsent-row");
  const FAST = 10000, WITH_FILES = 120000, TEN = 10000;
  let touched = false, pause = 4000, timer = 0, problem = "";

  const own = async () => (await sealed.all()).filter((entry) => entry.member === member);
  const path = (address) => new URL(address, location.href).pathname;

  // ---- sending
  const body = async (entry, said, apart) => {
    const form = new FormData();
    for (const [name, text] of [...said.fields, ...apart]) form.append(name, text);
    for (const { field, file } of await sealed.filesOf(entry)) form.append(field, file, file.name);
    form.set("entry_uid", entry.uid);
    form.set("entry_member", member);
    form.set("entry_age", String(Math.max(0, Date.now() - entry.at)));
    form.set("entry_open", String(Math.max(0, entry.open)));
    return form;
  };
  // `apart`: fields of a form just pressed that are not kept here (data-not-kept), such as names
  const send = async (entry, quiet, apart = []) => {
    const said = await sealed.read(entry), stop = new AbortController();
    const limit = setTimeout(() => stop.abort(), entry.files?.length ? WITH_FILES : FAST);
    try {
      const headers = { Accept: "application/json", "X-CSRFToken": sealed.token(), ...(quiet ? { "X-Quiet": "1" } : {}) };
      const answer = await fetch(entry.address, { method: "POST", body: await body(entry, said, apart), headers, signal: stop.signal });
      const json = (answer.headers.get("Content-Type") || "").startsWith("application/json") ? await answer.json() : null;
      return { ...read(answer, json), said };
    } catch {
      return { state: "away", said };
    } finally {
      clearTimeout(limit);
    }
  };
  const read = (answer, json) => {
    if (json?.kept) return { state: "kept", next: json.next };
    if (json?.refused) return { state: "refused", words: json.refused, fresh: json.fresh };
    if (json?.other_member || answer.status === 403 || answer.ok) return { state: "signedOut" };
    if (answer.status >= 500 || answer.status === 429 || answer.status === 408) return { state: "away" };
    return { state: "refused", words: [dataset.gone], fresh: {} };
  };

  const alone = (act) => (navigator.locks ? navigator.locks.request("shopwarranty-entries", act) : act());
  const flush = (mine, apart) => alone(() => run(mine, apart));
  const run = async (mine, apart) => {
    const held = new Set();
    let outcome = { state: "away" }, kept = 0;
    problem = "";
    for (const entry of (await own()).filter((one) => one.state !== "typed")) {
      if ((entry.state === "refused" && !entry.retry) || held.has(entry.group)) { held.add(entry.group); continue; }
      if (!navigator.onLine) { problem = "away"; break; }
      Object.assign(entry, { tries: entry.tries + 1, retry: false });
      await sealed.put(entry, await sealed.read(entry));
      const answer = await send(entry, entry.uid !== mine, entry.uid === mine ? apart : []);
      if (entry.uid === mine) outcome = answer;
      if (answer.state === "kept") {
        await sealed.remove(entry.n);
        localStorage.setItem(`changed ${entry.group}`, String(Date.now()));
        kept += 1;
      } else if (answer.state === "refused") {
        const { words, fresh } = answer;
        // pressed just now, it is sent as any form next, for its page with the errors; that may be kept after all
        const retry = entry.uid === mine;
        await sealed.put({ ...entry, state: "refused", retry }, { ...answer.said, words, fresh });
        held.add(entry.group);
      } else {
        problem = answer.state;
        break;
      }
    }
    return { ...outcome, kept };
  };
  const flushAndShow = async () => {
    clearTimeout(timer);
    if (!(await own()).some((entry) => entry.state === "waiting" || entry.retry)) return show();
    const { kept } = await flush();
    if (kept && !touched) return location.reload();
    await show();
    if (problem === "away") timer = setTimeout(flushAndShow, pause = Math.min(pause * 2, 60000));
  };

  // ---- storing
  const contents = (form, submitter) => {
    const data = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
    if (submitter?.name) data.push([submitter.name, submitter.value]);
    const texts = data.filter(([, value]) => typeof value === "string"), notKept = (form.dataset.notKept || "").split(" ");
    const fields = texts.filter(([name]) => !notKept.includes(name)), apart = texts.filter(([name, text]) => text && notKept.includes(name));
    const files = data.filter(([, value]) => typeof value !== "string" && value.size).map(([field, file]) => ({ field, file }));
    return { fields, files, apart };
  };
  // The entry that this form was filled from is replaced, unless the server may have it already.
  const before = async (form) => {
    const mine = await own(), here = (entry) => entry.state === "refused" && entry.address === path(form.action);
    const found = mine.find((entry) => entry.n === Number(form.dataset.entry)) || mine.find(here);
    return found && (found.state !== "waiting" || !found.tries) ? found : null;
  };
  const store = async (form, submitter, state) => {
    const { fields, files, apart } = contents(form, submitter), old = await before(form);
    if (old) {
      const again = new Set(files.map(({ field }) => field));
      files.push(...(await sealed.filesOf(old)).filter(({ field }) => !again.has(field)));
    }
    const entry = { uid: crypto.randomUUID(), state, tries: 0, at: Date.now(), open: Date.now() - performance.timeOrigin,
      address: path(form.action), group: form.dataset.group, ...(old ? { n: old.n } : {}) };
    const page = form.dataset.page || location.pathname + location.search;
    const said = { title: form.dataset.draft, page, then: form.dataset.then || "", fields, without: apart.length > 0 };
    const row = await sealed.put(entry, said, files);
    form.dataset.entry = row.n;
    navigator.storage?.persist?.();
    return row;
  };
  let last = Promise.resolve();
  const inTurn = (act) => (last = last.then(act, act));

  const plainly = (form, submitter, uid) => {
    const add = (name, value) => form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
    if (submitter?.name) add(submitter.name, submitter.value);
    if (uid) { add("entry_uid", uid); add("entry_member", member); }
    HTMLFormElement.prototype.submit.call(form);
  };
  const go = (address) => {
    const to = new URL(address, location.href), same = to.pathname + to.search === location.pathname + location.search;
    if (!same) return location.assign(to);
    history.replaceState(null, "", to);
    location.reload();
  };
  const press = async (form, submitter) => {
    let entry = null;
    const { apart } = contents(form, submitter);
    try { entry = await store(form, submitter, "waiting"); } catch { return plainly(form, submitter); }
    const answer = await flush(entry.uid, apart);
    touched = false;
    if (answer.state === "kept") return go(answer.next || form.dataset.then || location.href);
    if (answer.state === "refused" && navigator.onLine) return plainly(form, submitter, entry.uid);
    sessionStorage.setItem("undo entry", JSON.stringify({ uid: entry.uid, until: Date.now() + TEN }));
    return go(form.dataset.then || location.href);
  };
  // Pressed without a network it can be taken back as well, as long as no try was made to send it.
  const offerUndo = async () => {
    const { uid, until } = JSON.parse(sessionStorage.getItem("undo entry") || "{}");
    const find = async () => (await own()).find((one) => one.uid === uid && one.state === "waiting" && !one.tries);
    const entry = until > Date.now() ? await find() : null;
    if (!entry) return sessionStorage.removeItem("undo entry");
    const said = await sealed.read(entry), note = document.getElementById("unsent-undo").content.firstElementChild.cloneNode(true);
    note.querySelector("p").textContent = dataset.keptHere.replace("%what%", said.title);
    note.querySelector("button").addEventListener("click", () => inTurn(async () => {
      sessionStorage.removeItem("undo entry");
      await alone(async () => { const still = await find(); if (still) await sealed.remove(still.n); });
      go(said.page);
    }));
    box.before(note);
  };
  // What ends a row of entries (data-last: how their groups begin) is sent once the server has all of them. Until then
  // it stays on its page, and is not kept beyond what was typed: somebody signs it, and looks again.
  const pressLast = async (form, submitter) => {
    let entry = null;
    const { apart } = contents(form, submitter);
    try { entry = await store(form, submitter, "typed"); } catch { return plainly(form, submitter); }
    await flush();
    const before = (await own()).filter((one) => one.n !== entry.n && one.group.startsWith(form.dataset.last));
    const may = !before.length && navigator.onLine;
    const answer = may ? await alone(() => send(entry, false, apart)) : { state: "away" };
    if (answer.state === "kept") {
      await sealed.remove(entry.n);
      return go(answer.next || location.href);
    }
    if (answer.state === "refused") return plainly(form, submitter, entry.uid);
    if (may) problem = answer.state;
    await show();
    if (problem === "signedOut") return later(dataset.signedOut);
    end?.scrollIntoView({ block: "center" });
    return later(before.length && problem !== "away" && navigator.onLine ? end?.dataset.before : end?.dataset.away);
  };
  const end = document.getElementById("end-later");
  const later = (words) => {
    if (!end) return;
    end.textContent = words;
    end.hidden = !words;
  };
  const fromPhone = performance.getEntriesByType("navigation")[0]?.serverTiming?.some((one) => one.name === "kept");
  if (end && (fromPhone || !navigator.onLine)) later(end.dataset.away);
  addEventListener("offline", () => later(end?.dataset.away));
  addEventListener("online", () => later(""));

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || !form.hasAttribute("data-draft")) return;
    event.preventDefault();
    const { submitter } = event;
    const act = form.hasAttribute("data-last") ? pressLast : press;
    inTurn(() => act(form, submitter).finally(() => { delete form.dataset.sent; }));
  });
  document.addEventListener("change", (event) => {
    const form = event.target.form;
    touched = true;
    if (form?.hasAttribute("data-keep-typed")) inTurn(() => store(form, null, "typed").catch(() => {}));
  });

  // ---- filling a form again
  const fill = (form, said) => {
    for (const field of form.elements) {
      if (!field.name || ["hidden", "file", "submit", "button"].includes(field.type)) continue;
      const texts = said.fields.filter(([name]) => name === field.name).map(([, text]) => text);
      if (["radio", "checkbox"].includes(field.type)) field.checked = texts.includes(field.value);
      else if (texts.length) field.value = texts[0];
      if (texts.some(Boolean) && field.checked !== false) field.closest("details")?.setAttribute("open", "");
    }
  };
  const refill = async () => {
    for (const form of document.querySelectorAll("form[data-draft][data-keep-typed]")) {
      const here = (await own()).filter((entry) => entry.address === path(form.action));
      const entry = here.findLast((one) => one.state !== "waiting" || form.dataset.keepTyped === "one");
      if (!entry) continue;
      fill(form, await sealed.read(entry));
      form.dataset.entry = entry.n;
    }
  };

  // ---- what waits, in words
  const told = (one, many, n) => (n === 1 ? dataset[one] : dataset[many].replace("%n%", n));
  const show = async () => {
    const everything = await sealed.all(), mine = everything.filter((entry) => entry.member === member);
    rows.replaceChildren(...(await Promise.all(mine.map(row))));
    const waits = mine.filter((entry) => entry.state !== "typed").length, typed = mine.length - waits;
    const parts = [waits ? told("one", "many", waits) : "", typed ? told("oneTyped", "manyTyped", typed) : ""];
    line.textContent = [...parts, waits && problem === "signedOut" ? dataset.signedOut : ""].filter(Boolean).join(" ");
    const whose = new Map();
    for (const entry of everything.filter((one) => one.member !== member && !one.shut)) {
      whose.set(entry.member, { who: entry.initials, n: (whose.get(entry.member)?.n || 0) + 1 });
    }
    const shut = everything.filter((one) => one.shut).length, words = shut ? [told("oneShut", "manyShut", shut)] : [];
    words.push(...[...whose.values()].map(({ who, n }) => told("oneOther", "manyOther", n).replaceAll("%who%", who)));
    others.textContent = words.join(" ");
    const fold = document.getElementById("unsent-fold");
    fold.hidden = !mine.length;
    fold.open = fold.open || mine.some((entry) => entry.state === "refused");
    sealed.tell("entries", everything.length);
  };
  const row = async (entry) => {
    const said = await sealed.read(entry), item = template.content.firstElementChild.cloneNode(true);
    const part = (name) => item.querySelector(`[data-${name}]`);
    const time = new Date(entry.at).toLocaleTimeString(document.documentElement.lang, { hour: "numeric", minute: "2-digit" });
    part("title").textContent = `${said.title}, ${time}`;
    const words = entry.state === "refused" ? said.words || [] : [dataset[entry.state]];
    part("state").textContent = [...words, ...(said.without ? [dataset.without] : [])].join(" ");
    part("open").href = said.page;
    item.classList.toggle("is-refused", entry.state === "refused");
    part("again").hidden = entry.state !== "refused" || !Object.keys(said.fresh || {}).length;
    part("again").addEventListener("click", () => inTurn(() => sendMine(entry, said)));
    part("away").addEventListener("click", (event) => {
      if (event.target.dataset.sure) return inTurn(async () => { await sealed.remove(entry.n); await flushAndShow(); });
      event.target.dataset.sure = "yes";
      event.target.textContent = dataset.sure;
    });
    return item;
  };
  // "Mine again": what the reader has now seen stands in the entry, so that it is not refused for the same reason twice.
  const sendMine = async (entry, said) => {
    const fresh = new Map(Object.entries(said.fresh)), fields = said.fields.filter(([name]) => !fresh.has(name));
    const { uid: _old, ...rest } = entry;
    await sealed.put({ ...rest, uid: crypto.randomUUID(), state: "waiting", tries: 0 }, { ...said, fields: [...fields, ...fresh], words: [] });
    touched = false;
    return flushAndShow();
  };

  addEventListener("online", () => inTurn(flushAndShow));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) inTurn(flushAndShow); });
  inTurn(async () => { await refill(); await show(); await offerUndo(); await flushAndShow(); });
})();
