// The live run: one action at a time. The page holds a small core (which action, since when, its
// clock) and computes everything it shows from that and from its own clock.

import { attempt, icon, island, postForm } from "/static/house/house.js";
import { RunClock } from "/static/sink/clock.js";
import { Cues } from "/static/sink/cues.js";
import { Link } from "/static/sink/link.js";

const $ = (id) => document.getElementById(id);
const run = $("live").dataset.run;
const plan = island("plan");
const first = island("look");
// A second touch so soon after the action changed was meant for the one before.
const SETTLE_MS = first.speed > 1 ? 200 : 700;
const HOLD_MS = 1500;
const SYNC_EVERY_MS = 20_000;
const UNSEALED = "This browser cannot keep the screen awake on an unsealed page. Set the screen time-out of this device to its longest before you begin, or open the house with --tls.";
const PLACES = {
  bench: ["On the bench", "bench"],
  dark_room: ["Light out", "lamp"],
  closed_tank: ["Lid on, no light", "caution"],
  open: ["Light is allowed", "done"],
};

let core = coreOf(first);
let coreSeq = first.seq;
let anchored = first.status !== "planned";
let changedAt = -Infinity;
let saidTimer = null;
let drawnKey = "";

const link = new Link(run, { changed: heard, told, trouble });
// The house lets a rehearsal hurry from its start on; until then its clock is the one on the wall.
const clock = new RunClock(link.clock, anchored ? first.speed : 1);
clock.take(first.now_s);
const cues = new Cues(clock, () => draw());
cues.wake = () => cues.turn();

function coreOf(look) {
  return {
    status: look.status,
    index: look.index,
    began_s: look.began_s,
    clock_from_s: look.clock_from_s,
    extended_s: look.extended_s,
    deadlines: look.deadlines,
  };
}

const action = () => (["running", "paused"].includes(core.status) ? plan.actions[core.index] : null);
const dueOf = () => (core.clock_from_s === null ? null : core.clock_from_s + action().duration_s + core.extended_s);

function phase(now) {
  const doing = action();
  if (!doing) return core.status;
  if (core.clock_from_s === null) return "ready";
  if (doing.ends_by === "person") return "doing";
  if (now >= dueOf()) return "due";
  return now >= dueOf() - doing.drain_s ? "draining" : "running";
}

/** What the house says counts, unless touches of this device are still on their way to it. */
function heard(look, seq) {
  if (link?.queue.length) return;
  if (seq < coreSeq) return;
  coreSeq = seq;
  if (["finished", "aborted"].includes(look.status)) {
    location.reload();
    return;
  }
  const next = coreOf(look);
  if (next.index !== core.index || next.status !== core.status) changedAt = performance.now();
  core = next;
  if (!anchored && core.status !== "planned") {
    anchored = true;
    clock.pace(first.speed);
    back();
  }
  planCues();
  draw();
}

function told(orders) {
  for (const order of orders) {
    if (order.text && order.do !== "show") say(order.text, order.do === "caution" || order.level !== "note" ? "danger" : "");
  }
}

function trouble(sentence) {
  $("trouble").hidden = sentence === null;
  $("trouble").textContent = sentence ?? "";
}

function say(text, level = "") {
  const line = $("said");
  line.textContent = text;
  line.className = `said ${level}`;
  line.hidden = false;
  clearTimeout(saidTimer);
  saidTimer = setTimeout(() => (line.hidden = true), level ? 15_000 : 5000);
}

/** One event, with the instant of this device where its clock is sure. */
function send(kind, more = {}) {
  const event = { kind, action: action()?.key ?? "", ...more };
  if (clock.sure) event.at_s = clock.now();
  link.send(event);
}

/** The big button, any key, a foot pedal. */
function touch() {
  cues.unlock();
  keepAwake();
  if (performance.now() - changedAt < SETTLE_MS) return;
  const now = clock.now();
  const is = phase(now);
  if (core.status === "planned") {
    send("started");
    clock.pace(first.speed);
    core = { ...core, status: "running", index: 0, began_s: now, clock_from_s: plan.actions[0].waits_for_pour ? null : now, extended_s: 0 };
  } else if (is === "ready") {
    send("poured");
    core = { ...core, status: "running", clock_from_s: now };
  } else if (is === "running") {
    say(`${length(dueOf() - now)} left. Nothing was changed; to end it early, open More.`);
    return;
  } else if (action()) {
    send("acknowledged");
    forward(now);
  } else {
    return;
  }
  changedAt = performance.now();
  $("said").hidden = true;
  planCues();
  draw();
}

/** Go on here at once; the house confirms or corrects. */
function forward(now) {
  const index = core.index + 1;
  const next = plan.actions[index];
  core = { ...core, status: next ? "running" : "finished", index, began_s: now, clock_from_s: next && !next.waits_for_pour ? now : null, extended_s: 0 };
}

function cueList() {
  const doing = action();
  if (!doing || core.clock_from_s === null) return [];
  const moves = doing.cues.filter((cue) => cue.kind === "agitate");
  // A cue is known by its place in the plan, not by its instant: the house may correct that by a hair, and nobody wants it told twice.
  const found = doing.cues.map((cue) => {
    const late = ["ready", "drain", "end"].includes(cue.kind) ? core.extended_s : 0;
    return { ...cue, at_s: core.clock_from_s + cue.at_s + late, key: `${doing.key} ${cue.kind} ${cue.at_s} ${late}` };
  });
  if (core.extended_s > 0 && moves.length >= 3) {
    const every = moves.at(-1).at_s - moves.at(-2).at_s;
    const last = doing.duration_s + core.extended_s - doing.drain_s;
    for (let at = moves.at(-1).at_s + every; every > 0 && at + moves.at(-1).lasts_s <= last; at += every) {
      found.push({ ...moves.at(-1), at_s: core.clock_from_s + at, key: `${doing.key} agitate ${at} 0` });
    }
  }
  for (const cue of found.filter((c) => c.kind === "agitate" && c.lasts_s > 0)) {
    found.push({ at_s: cue.at_s + cue.lasts_s, kind: "rest", text: "Set it down.", lasts_s: 0, key: `${cue.key} rest` });
  }
  return found.sort((a, b) => a.at_s - b.at_s);
}

function planCues() {
  cues.quiet = core.status === "paused";
  cues.plan(cueList());
}

// Drawing

function draw() {
  const now = clock.now();
  const doing = action();
  const is = phase(now);
  const key = `${core.status} ${core.index}`;
  if (key !== drawnKey) {
    drawnKey = key;
    drawAction(doing);
    drawRibbon();
  }
  drawTime(doing, is, now);
  drawCue(doing, is, now);
  drawTouch(doing, is);
  const end = core.status === "planned" ? null : endOfEvening(doing, now);
  $("end-of-evening").textContent = end === null ? "" : `hands free about ${hour(end)}`;
  drawDeadlines(now);
}

function drawAction(doing) {
  const [words, mark] = doing ? PLACES[doing.place] : ["Not begun", "sink"];
  $("where-words").textContent = words;
  $("where-icon").setAttribute("href", `/static/house/icons.svg#${mark}`);
  $("where").classList.toggle("dark", Boolean(doing) && ["dark_room", "closed_tank"].includes(doing.place));
  $("title").textContent = doing?.title ?? (core.status === "planned" ? plan.name : "Over");
  $("title").classList.toggle("long", $("title").textContent.length > 34);
  const box = $("telling");
  box.replaceChildren();
  const text = doing?.do || (core.status === "planned" ? "Everything is planned. The clock starts with your first touch." : "");
  if (text) box.append(Object.assign(document.createElement("p"), { className: "do", textContent: text }));
  if (doing?.kind === "prepare") {
    const sheet = Object.assign(document.createElement("a"), { className: "button", target: "_blank", rel: "noopener", textContent: "Its mix sheet" });
    sheet.href = `/bench/sheet?formula=${encodeURIComponent(doing.formula)}&volume_ml=${plan.tank_ml}${controlsOf(doing)}`;
    box.append(paragraph("sheet", sheet));
  }
  if (doing?.kind === "check") {
    const write = Object.assign(document.createElement("button"), { type: "button", textContent: "Write the temperature down" });
    write.addEventListener("click", () => {
      $("more").showModal();
      $("temperature").focus();
    });
    box.append(paragraph("sheet", write));
  }
  if (core.status === "planned" && !("wakeLock" in navigator)) box.append(paragraph("hint", UNSEALED));
  const warned = [
    ...(doing?.cautions ?? []).map((line) => ["caution", line]),
    ...plan.cautions.filter((c) => doing && c.level === "danger" && [doing.key].includes(c.where)).map((c) => ["danger", c.text]),
  ];
  if (warned.length) {
    const list = document.createElement("ul");
    for (const [level, line] of warned) {
      const item = document.createElement("li");
      item.className = level;
      item.append(icon(level), Object.assign(document.createElement("span"), { textContent: line }));
      list.append(item);
    }
    box.append(list);
  }
  const list = document.createElement("ul");
  list.id = "deadlines";
  box.append(list);
  const next = plan.actions[core.status === "planned" ? 0 : core.index + 1];
  $("then").textContent = next ? `Then: ${next.title}` : "Then the evening is over.";
  $("place-in-evening").textContent = core.status === "planned" ? `${plan.actions.length} actions` : `${Math.min(core.index + 1, plan.actions.length)} of ${plan.actions.length}`;
  $("stage").scrollTop = 0;
  veil(Boolean(doing) && ["load", "join"].includes(doing.kind));
}

function paragraph(name, content) {
  const element = Object.assign(document.createElement("p"), { className: name });
  element.append(content);
  return element;
}

/** The controls of the strip a first developer is mixed for, as the bench reads them from an address. */
function controlsOf(doing) {
  if (doing.formula !== plan.first_developer) return "";
  const strip = plan.strips.find((each) => doing.strips.includes(each.name)) ?? plan.strips[0];
  return Object.entries(strip.controls).map(([name, value]) => `&${name}=${value}`).join("");
}

function drawRibbon() {
  const ribbon = $("ribbon");
  if (!ribbon.children.length) {
    for (const each of plan.actions) {
      const part = document.createElement("i");
      part.style.flex = String(Math.max(20, each.pour_s + each.duration_s));
      ribbon.append(part);
    }
  }
  [...ribbon.children].forEach((part, index) => {
    part.className = core.status !== "planned" && index < core.index ? "gone" : core.status !== "planned" && index === core.index ? "now" : "";
  });
  const total = plan.actions.reduce((sum, each) => sum + each.pour_s + each.duration_s, 0);
  const gone = plan.actions.slice(0, core.index).reduce((sum, each) => sum + each.pour_s + each.duration_s, 0);
  ribbon.setAttribute("aria-valuenow", String(Math.round((100 * gone) / total)));
}

function drawTime(doing, is, now) {
  const box = $("dial-box");
  const circle = $("dial-gone");
  const round = 2 * Math.PI * 106;
  $("live").classList.toggle("brief", !doing);
  box.classList.toggle("due", is === "due");
  box.classList.toggle("quiet", is === "doing");
  if (!doing) return;
  const due = dueOf();
  const whole = doing.duration_s + core.extended_s;
  const left = due === null ? whole : due - now;
  const share = due === null ? 0 : Math.min(1, Math.max(0, 1 - left / whole));
  circle.style.strokeDasharray = `${(share * round).toFixed(1)} ${round.toFixed(1)}`;
  const shown = is === "due" ? -left : Math.max(0, left);
  const text = (is === "due" ? "+" : "") + length(shown, is === "due");
  if ($("time").textContent !== text) $("time").textContent = text;
  $("time").classList.toggle("hours", text.length > 5);
  $("time-words").textContent = { ready: "once it is in", running: "left", draining: "pour it out", due: "over its time", doing: left > 0 ? "about" : "take your time" }[is] ?? "";
  drawDialCues(doing, whole);
}

let dialKey = "";
function drawDialCues(doing, whole) {
  const key = `${core.index} ${whole}`;
  if (key === dialKey) return;
  dialKey = key;
  const marks = [];
  if (doing.ends_by === "clock" && whole > 0) {
    for (const cue of doing.cues) {
      if (!["agitate", "drain"].includes(cue.kind)) continue;
      const at = cue.at_s + (cue.kind === "drain" ? core.extended_s : 0);
      const angle = (2 * Math.PI * at) / whole;
      const line = document.createElementNS("http://www.w3.org/2000/svg", "line");
      const [inner, outer] = cue.kind === "drain" ? [94, 120] : [98, 114];
      line.setAttribute("x1", 120 + inner * Math.sin(angle));
      line.setAttribute("y1", 120 - inner * Math.cos(angle));
      line.setAttribute("x2", 120 + outer * Math.sin(angle));
      line.setAttribute("y2", 120 - outer * Math.cos(angle));
      line.setAttribute("class", cue.kind);
      marks.push(line);
    }
  }
  $("dial-cues").replaceChildren(...marks);
}

function drawCue(doing, is, now) {
  const line = $("cue");
  let text = "";
  let active = false;
  if (core.status === "paused") {
    text = "Paused. " + (doing?.ends_by === "clock" && core.clock_from_s !== null ? "The bath does not wait." : "Any key goes on.");
  } else if (is === "ready") {
    text = "Pour it in.";
    active = true;
  } else if (doing) {
    const list = cueList();
    const current = list.filter((cue) => cue.at_s <= now && now < cue.at_s + Math.max(cue.lasts_s, 4)).findLast((cue) => !["rest", "end"].includes(cue.kind));
    const coming = list.find((cue) => cue.at_s > now && !["rest", "ready", "end"].includes(cue.kind));
    if (is === "due") {
      text = "Pour it out.";
      active = true;
    } else if (current) {
      text = current.text;
      active = true;
    } else if (coming) {
      text = `In ${length(coming.at_s - now)}: ${coming.text[0].toLowerCase()}${coming.text.slice(1)}`;
    }
  }
  if (line.textContent !== text && (active || !text || Math.floor(now) !== line.dataset.second)) {
    // The countdown is for the eye; only what is due now is told to a screen reader.
    line.setAttribute("aria-live", active ? "assertive" : "off");
    line.textContent = text;
    line.dataset.second = Math.floor(now);
  }
  line.classList.toggle("now", active);
}

function drawTouch(doing, is) {
  const words = {
    planned: "Begin the evening",
    ready: "It is in: start the clock",
    running: "Nothing to do yet",
    draining: "It is out",
    due: "It is out",
    doing: { load: "Loaded, lid on", lights_out: "It is dark", open: "It is open", may_open: "Go on", hang: "It hangs", hold_end: "It is out", wait: "They are warm", check: "Measured" }[doing?.kind] ?? "Done",
  }[core.status === "planned" ? "planned" : is];
  const button = $("touch");
  const text = (doing?.kind === "reexpose" && is === "due" ? "Enough light" : words) ?? "Over";
  if (button.textContent !== text) button.textContent = text;
  button.classList.toggle("waiting", is === "running");
  $("pause").textContent = core.status === "paused" ? "Go on" : "Pause";
}

function drawDeadlines(now) {
  const list = $("deadlines");
  if (!list) return;
  const lines = (core.deadlines ?? []).slice(0, 2).map((item) => {
    const name = item.formula.replaceAll("_", " ");
    const left = item.by_s - now;
    const what = item.kind === "life" ? "use it up" : "destroy it";
    return [left < 600 ? "danger" : "note", left < 0 ? `${name}: should have been ${item.kind === "life" ? "used up" : "destroyed"} ${Math.round(-left / 60)} min ago.` : `${name}: ${what} by ${hour(item.by_s)}, in ${Math.ceil(left / 60)} min.`];
  });
  const text = lines.flat().join("|");
  if (list.dataset.text === text) return;
  list.dataset.text = text;
  list.replaceChildren(
    ...lines.map(([level, line]) => {
      const item = document.createElement("li");
      item.className = level;
      item.append(icon(level), Object.assign(document.createElement("span"), { textContent: line }));
      return item;
    }),
  );
}

function endOfEvening(doing, now) {
  if (!doing) return null;
  const rest = plan.actions.slice(core.index + 1).reduce((sum, each) => sum + each.pour_s + each.duration_s, 0);
  const due = dueOf() ?? Math.max(now, core.began_s + doing.pour_s) + doing.duration_s;
  return Math.max(now, due) + rest;
}

/** m:ss, rounded up so that 0:00 is the end and not the last second. */
function length(seconds, down = false) {
  const whole = Math.max(0, down ? Math.floor(seconds) : Math.ceil(seconds - 0.001));
  const minutes = Math.floor(whole / 60);
  const rest = String(whole % 60).padStart(2, "0");
  return minutes >= 60 ? `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}:${rest}` : `${minutes}:${rest}`;
}

const hour = (instant) => new Date(instant * 1000).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

// The black screen: nothing may light up by a stray touch while the film is bare

let holding = null;

function veil(on) {
  const cover = $("veil");
  if (cover.hidden === !on) return;
  cover.hidden = !on;
  $("live").inert = on;
  if (on) {
    $("more").close();
    cover.focus();
    cues.speak("The screen is black. Hold it, or a key, when the lid is on.");
  }
}

function hold() {
  cues.unlock();
  holding ??= setTimeout(() => {
    holding = null;
    if (cues.by.vibration) navigator.vibrate?.(200);
    touch();
  }, HOLD_MS);
}

function letGo() {
  clearTimeout(holding);
  holding = null;
}

$("veil").addEventListener("pointerdown", hold);
for (const kind of ["pointerup", "pointercancel", "pointerleave"]) $("veil").addEventListener(kind, letGo);
document.addEventListener("keyup", letGo);

// Keys, dialog, settings

const PASS = new Set(["Tab", "Escape", "Shift", "Control", "Alt", "Meta", "AltGraph", "CapsLock", "F5", "F11", "F12", "ContextMenu", "PrintScreen"]);

const SCROLL = new Set(["ArrowUp", "ArrowDown", "PageUp", "PageDown", "Home", "End"]);

document.addEventListener("keydown", (event) => {
  if (!$("veil").hidden) {
    if (!PASS.has(event.key) && !event.repeat) hold();
    event.preventDefault();
    return;
  }
  if (event.repeat || event.ctrlKey || event.metaKey || event.altKey || PASS.has(event.key) || $("more").open) return;
  const own = event.target.closest?.("button, a, input, select, summary, dialog");
  if (own && own !== $("touch")) {
    if (["Enter", " "].includes(event.key)) return;
  }
  // Whoever has gone to the text by Tab reads on with the keys that scroll.
  if (document.activeElement === $("stage") && SCROLL.has(event.key)) return;
  event.preventDefault();
  touch();
});
$("touch").addEventListener("click", (event) => {
  // A key has been counted already; a click that a key made carries no pointer.
  if (event.detail !== 0 || event.pointerType) touch();
});
$("more-button").addEventListener("click", () => $("more").showModal());
const done = () => $("more").close();

$("temperature-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const value = Number($("temperature").value.replace(",", "."));
  if (!Number.isFinite(value) || $("temperature").value.trim() === "") {
    $("temperature").setAttribute("aria-invalid", "true");
    return;
  }
  $("temperature").removeAttribute("aria-invalid");
  $("temperature").value = "";
  send("temperature_noted", { temperature_c: value });
  done();
});
for (const button of document.querySelectorAll("[data-extend]")) {
  button.addEventListener("click", () => {
    send("step_extended", { seconds: Number(button.dataset.extend) });
    if (action()) core.extended_s += Number(button.dataset.extend);
    planCues();
    draw();
    done();
  });
}
$("skipped").addEventListener("click", () => {
  send("agitation_skipped");
  done();
});
$("pause").addEventListener("click", () => {
  const paused = core.status === "paused";
  send(paused ? "resumed" : "paused");
  if (action()) core.status = paused ? "running" : "paused";
  planCues();
  draw();
  done();
});
$("note-form").addEventListener("submit", (event) => {
  event.preventDefault();
  send("note", { text: $("note").value });
  $("note").value = "";
  done();
});
$("photo-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = new FormData();
  form.append("picture", $("photo").files[0]);
  const answer = await attempt(() => postForm(`${link.base}/photo`, form));
  if (answer) {
    $("photo").value = "";
    say("The picture is kept.");
    done();
  }
});
$("cut").addEventListener("click", () => {
  if (!action() || core.clock_from_s === null) return;
  send("acknowledged", { cut_short: true });
  forward(clock.now());
  changedAt = performance.now();
  planCues();
  draw();
  done();
});
$("abort-form").addEventListener("submit", (event) => {
  event.preventDefault();
  send("aborted", { text: $("abort-reason").value });
  done();
});

for (const name of ["sound", "speech", "vibration", "sight"]) {
  const box = $(`by-${name}`);
  try {
    const kept = localStorage.getItem(`obverse-cue-${name}`);
    if (kept !== null) cues.by[name] = kept === "yes";
  } catch {
    // Forbidden storage: the usual settings.
  }
  box.checked = cues.by[name];
  box.addEventListener("change", () => {
    cues.by[name] = box.checked;
    try {
      localStorage.setItem(`obverse-cue-${name}`, box.checked ? "yes" : "no");
    } catch {
      // Forbidden storage: it lasts as long as the page.
    }
  });
}
$("try-cue").addEventListener("click", () => cues.sample());

// The screen must not sleep

let lock = null;
async function keepAwake() {
  const hint = $("awake");
  if (!("wakeLock" in navigator)) {
    hint.textContent = UNSEALED;
    return;
  }
  if (lock && !lock.released) return;
  try {
    lock = await navigator.wakeLock.request("screen");
    hint.textContent = "The screen stays awake while this page is open.";
  } catch {
    hint.textContent = "The screen may fall asleep (the battery may be low). Set the screen time-out to its longest; cues come only from a waking screen.";
  }
}

async function back() {
  clock.sure = false;
  await clock.sync();
  planCues();
  draw();
}
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState !== "visible") return;
  if (lock) keepAwake();
  back();
});
window.addEventListener("pageshow", (event) => event.persisted && back());
document.addEventListener("resume", back);
window.addEventListener("online", back);

let lastTick = performance.now();
setInterval(() => {
  const now = performance.now();
  // The page was frozen, or the device slept: ask what time it is before anything is believed.
  if (clock.check() || now - lastTick > 3000) back();
  lastTick = now;
  cues.turn();
  draw();
}, 100);
setInterval(() => clock.sync(3), SYNC_EVERY_MS);
clock.sync().then(() => {
  planCues();
  draw();
});
planCues();
draw();
if (core.status === "planned" || !("wakeLock" in navigator)) keepAwake();

// A device that only looks on may sound after a tap anywhere; a tap beside the button changes nothing.
document.addEventListener("pointerdown", () => cues.unlock());
if (core.status === "running") say("Tap the title once, and this device may sound too.");

// For measuring: what this page believes.
window.obverseSink = { now: () => clock.now(), core: () => ({ ...core }), fired: () => cues.fired, waiting: () => link.queue.length, sure: () => clock.sure };
