// The live run: one action at a time. The page holds a small core (which action, since when, its
// clock), moves it by run.js as the house would, and shows everything from that and from its own clock.

import { attempt, celsiusOf, degreeSign, degreesOf, get, icon, island, post, postForm, temperature, units } from "/static/house/house.js";
import { RunClock } from "/static/sink/clock.js";
import { Cues } from "/static/sink/cues.js";
import { Dark } from "/static/sink/dark.js";
import { Link } from "/static/sink/link.js";
import * as machine from "/static/sink/run.js";

const $ = (id) => document.getElementById(id);
const run = $("live").dataset.run;
const plan = island("plan");
const first = island("look");
// A second touch so soon after one's own was meant for the action before.
const SETTLE_MS = first.speed > 1 ? 200 : 700;
// Where another device moved the evening on, a touch within this was still meant for what was shown before.
const OTHER_HAND_MS = 3000;
const WRONG_FOR_S = 120;
const SYNC_EVERY_MS = 20_000;
const DUTIES_EVERY_MS = 15_000;
// The big button. A pedal types one of them.
const KEYS = new Set(["Enter", " ", "PageDown"]);
const UNSEALED = "This browser cannot keep the screen awake on an unsealed page. Set the screen time-out of this device to its longest before you begin, or open the house with --tls.";
const PLACES = {
  bench: ["On the bench", "bench"],
  dark_room: ["Light out", "lamp"],
  closed_tank: ["Lid on, no light", "caution"],
  open: ["Light is allowed", "done"],
};
// Letters of cautions, and half of those of the words, from which on the dial makes room for them.
const MUCH_TO_TELL = 160;
// Room for one line of words.
const FOLD_WORDS_PX = 20;
const LEVELS = ["note", "caution", "danger"];
// What must be read to its end before the button goes on: what stands ready, and what is done in the dark.
const READ_FIRST = new Set(["lay_out", "brief"]);

let core = machine.coreOf(first);
let coreSeq = first.seq;
let look = first;
let anchored = first.anchored;
let changedAt = -Infinity;
// Set while another device's touch is so fresh that one's own may have been meant for what was there before it.
let meantBefore = null;
let saidTimer = null;
// Which action was asked about because a touch came early, and when; a touch within this answers.
let asked = { key: "", at: 0 };
const ANSWER_MS = 15_000;
let drawnKey = "";
let duties = { list: plan.duties, heard: performance.now() };
let readToTheEnd = false;

const cues = new Cues(null, () => draw());
const link = new Link(run, { changed: heard, told, trouble, kept });
// The house lets a rehearsal hurry from its start on; until then its clock is the one on the wall.
const clock = new RunClock(link.clock, anchored ? first.speed : 1);
clock.take(first.now_s);
cues.clock = clock;
cues.wake = () => cues.turn();
const dark = new Dark($("veil"), cues, { held: () => touch(), lit: () => touch({ meant: true }) });

const action = () => machine.actionOf(plan, core);
const dueOf = () => machine.dueOf(plan, core);
const next = () => machine.coming(plan, core)[0] ?? null;

/** What the house says counts, unless touches of this device are still on their way to it. */
function heard(told_, seq) {
  if (link?.queue.length) return;
  if (seq < coreSeq) return;
  const news = seq !== coreSeq;
  coreSeq = seq;
  look = told_;
  if (machine.isOver(look)) {
    location.reload();
    return;
  }
  const before = core;
  core = machine.coreOf(look);
  if (news && (core.index !== before.index || core.status !== before.status || (core.clock_from_s === null) !== (before.clock_from_s === null))) {
    // It was not this device: what a hand is about to touch here was shown before.
    meantBefore = { until: performance.now() + OTHER_HAND_MS, core: before };
  }
  if (!anchored && core.status !== "planned") {
    anchored = true;
    clock.pace(first.speed);
    back();
  }
  drawParted();
  planCues();
  draw();
}

/** Date and steady clock of the house have parted: what is known, and the choice that only the person can make. */
function drawParted() {
  const box = $("parted");
  const parted = look.parted ?? null;
  // The span grows by nothing while nobody looks; a new second is no new message.
  const key = parted ? parted.choices.map((choice) => choice.words).join("|") : "";
  if (box.dataset.key === key) return;
  box.dataset.key = key;
  box.hidden = !parted;
  if (!parted) return;
  $("parted-words").textContent = parted.text;
  $("parted-choices").replaceChildren(...parted.choices.map((choice) => {
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: choice.words });
    button.addEventListener("click", () => attempt(async () => {
      const now = await post(`/api/sink/runs/${encodeURIComponent(run)}/clock`, { how: choice.how });
      clock.take(now.now_s);
      heard(now, now.seq);
    }));
    return button;
  }));
  if (dark.on) cues.speak(parted.text, { dark: true });
}

function told(orders) {
  for (const order of orders) {
    if (order.text && order.do !== "show") say(order.text, order.do === "caution" || order.level !== "note" ? "danger" : "");
  }
}

/** How the house fares: nothing, quietly, or loudly; the sentence is told once, not once a second. */
function trouble(sentence, loud = false) {
  const line = $("trouble");
  const text = sentence ?? "";
  line.classList.toggle("loud", loud);
  if (line.textContent === text) return;
  line.hidden = !text;
  line.textContent = text;
  if (dark.on && text) cues.speak(text, { dark: true });
}

/** Where this device's touches are: every one of them is in one of the two places. */
function kept(waiting) {
  const line = $("kept");
  line.textContent = waiting ? `${waiting} kept here` : "kept in the house";
  line.classList.toggle("here", waiting > 0);
}

function say(text, level = "") {
  const line = $("said");
  line.textContent = text;
  line.className = `said ${level}`;
  line.hidden = false;
  clearTimeout(saidTimer);
  saidTimer = setTimeout(() => (line.hidden = true), level ? 15_000 : 6000);
  if (dark.on) cues.speak(text, { dark: true });
}

/** One event, with the instant of this device where its clock is sure; this page moves on at once. */
function send(kind, more = {}) {
  const event = { kind, action: action()?.key ?? "", ...more };
  if (clock.sure) event.at_s = clock.now();
  const id = link.send(event);
  core = machine.advance(plan, core, { ...event, id, at_s: clock.now() });
  changedAt = performance.now();
  planCues();
  draw();
}

/** Whether one's own last touch is so long ago that the next is meant. */
const settled = () => performance.now() - changedAt >= SETTLE_MS;

/** Whether a touch would be taken for the action that is shown, and not for a slip or a wish to read on. */
function heeds() {
  if (!settled() || (meantBefore && performance.now() < meantBefore.until)) return false;
  const doing = action();
  return !READ_FIRST.has(doing?.kind) || !doing.lines.length || wholeRead();
}

/** Whether a touch would move the evening on: it is heeded, and by this page's own clock it is neither too early nor asked about. */
function counts() {
  const doing = action();
  if (!doing) return heeds();
  const at_s = clock.now();
  const early = core.clock_from_s !== null && (refusedAsEarly(doing, at_s) || at_s - core.clock_from_s < doing.asked_until_s);
  return !early && heeds();
}

/** What the machine says of an end at this instant, where that is too early; else null. */
function refusedAsEarly(doing, at_s) {
  const refusal = machine.refusalOf(plan, core, { kind: "acknowledged", action: doing.key, at_s });
  return refusal?.kind === "too_early" ? refusal : null;
}

/** A bath that runs on while its cues are silent: the next touch is for the cues, not for the bath. */
const goesOn = (is) => is === "running" && core.status === "paused";

/** The big button, one of its keys, a foot pedal, a held black screen. */
function touch({ meant = false } = {}) {
  cues.unlock();
  keepAwake();
  // Three taps are no slip of the hold before them, however soon they come.
  if (!meant && !settled()) return;
  if (meantBefore && performance.now() < meantBefore.until) {
    const was = machine.actionOf(plan, meantBefore.core);
    meantBefore = null;
    const now = action();
    say(`The other device has just touched: now it is ${now ? now.title : "over"}. This touch changed nothing.`, "danger");
    // The record shows that a second hand touched, and for what.
    if (was) link.send({ kind: "acknowledged", action: was.key, ...(clock.sure ? { at_s: clock.now() } : {}) });
    return;
  }
  const doing = action();
  const is = machine.phaseOf(plan, core, clock.now());
  if (READ_FIRST.has(doing?.kind) && doing.lines.length && !wholeRead()) {
    $("stage").scrollBy({ top: $("stage").clientHeight * 0.7 });
    say("Read on: there is more below.");
    return;
  }
  if (core.status === "planned") {
    send("started");
    clock.pace(first.speed);
  } else if (is === "ready") {
    send("poured");
  } else if (goesOn(is)) {
    send("resumed");
  } else if (is === "running" && tooEarly(doing)) {
    return;
  } else if (doing && doneEarly(doing)) {
    return;
  } else if (doing) {
    // What was asked and answered is kept as it was said.
    send("acknowledged", asked.key === doing.key ? { cut_short: true } : {});
  } else {
    return;
  }
  $("said").hidden = true;
}

/** Whether the bath goes on for so long yet that a touch does not end it; then that is said. */
function tooEarly(doing) {
  const refusal = refusedAsEarly(doing, clock.now());
  if (!refusal) return false;
  say(`${length(refusal.seconds)} left. Nothing was changed; to end it early, open More.`);
  return true;
}

/** Whether this touch comes so early that it is asked about; a second touch answers that it is meant. */
function doneEarly(doing) {
  const gone = clock.now() - core.clock_from_s;
  if (gone >= doing.asked_until_s) {
    asked = { key: "", at: 0 };
    return false;
  }
  const now = performance.now();
  const since = asked.key === doing.key ? now - asked.at : Infinity;
  // A bounce of the same press is no answer.
  if (since < SETTLE_MS) return true;
  if (since < ANSWER_MS) return false;
  asked = { key: doing.key, at: now };
  say(`${length(doing.asked_until_s - gone)} of this are left. If it is done all the same, touch once more; it is written down as early.`, "danger");
  return true;
}

// It is noted as it happens: a line of trouble that comes later makes the stage smaller, and what was read stays read.
$("stage").addEventListener("scroll", wholeRead, { passive: true });
function wholeRead() {
  const stage = $("stage");
  readToTheEnd ||= stage.scrollTop + stage.clientHeight >= stage.scrollHeight - 8;
  return readToTheEnd;
}

/** The cues of the page, and a word after each bout that it is over. */
function cueList() {
  const found = machine.cuesOf(plan, core);
  for (const cue of found.filter((c) => c.kind === "agitate" && c.lasts_s > 0)) {
    found.push({ at_s: cue.at_s + cue.lasts_s, kind: "rest", text: "Set it down.", lasts_s: 0, key: `${cue.key} rest` });
  }
  const after = next();
  for (const cue of found) {
    // Ears that have no screen hear in time what comes.
    cue.spoken = cue.kind === "ready" && after ? `${cue.text} Then: ${after.title}.` : cue.text;
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
  const is = machine.phaseOf(plan, core, now);
  const key = `${core.status === "paused" ? "running" : core.status} ${core.index} ${core.ahead.length}`;
  if (key !== drawnKey) {
    const before = drawnKey;
    drawnKey = key;
    readToTheEnd = false;
    drawAction(doing);
    drawRibbon();
    if (before) announce(doing);
  }
  drawTime(doing, is, now);
  drawCue(doing, is, now);
  drawTouch(doing, is);
  drawWrong(now);
  const end = machine.endOf(plan, core, now);
  // The clock of a rehearsal is not the one on the wall: what is left of the evening is the same on both.
  const ends = end === null ? "" : first.speed > 1 ? `${Math.round((end - now) / 60)} min of the evening left` : `hands free about ${hour(end)}`;
  // Words that are written anew, the same or not, lay the whole page out again, ten times a second.
  if ($("end-of-evening").textContent !== ends) $("end-of-evening").textContent = ends;
  drawWorst(doing, now);
  drawFold();
  // What stands wholly on the screen is read, though a line of trouble should take room from it later.
  if (READ_FIRST.has(doing?.kind) && !readToTheEnd) wholeRead();
}

/** A change of step, once: what it is, what to do, the worst to know, and what comes after it. */
function announce(doing) {
  const after = next();
  const words = doing
    ? [doing.title + ".", doing.do, worstHere(doing), after ? `Then: ${after.title}.` : "Then the evening is over."]
    : ["The evening is over."];
  const text = words.filter(Boolean).join(" ");
  $("announce").textContent = text;
  if (doing && machine.DARK.has(doing.kind)) return;
  // The last words with the light on are spoken even where speech was never chosen.
  if (doing?.kind === "brief") cues.speak(text, { dark: true });
  else cues.speak(words.slice(0, 2).filter(Boolean).join(" "), { wait: true });
}

/** The worst of this very step; what stands for long is on the screen and is not said again at each step. */
function worstHere(doing) {
  const [level, words] = worstOf(doing, clock.now())[0] ?? [];
  return level === "danger" ? words : doing.cautions[0] ?? "";
}

function drawAction(doing) {
  const [words, mark] = doing ? PLACES[doing.place] : core.status === "planned" ? ["Not begun", "sink"] : ["Over", "done"];
  $("where-words").textContent = words;
  $("where-icon").setAttribute("href", `/static/house/icons.svg#${mark}`);
  $("where").classList.toggle("dark", Boolean(doing) && ["dark_room", "closed_tank"].includes(doing.place));
  $("title").textContent = doing?.title ?? (core.status === "planned" ? plan.name : "Over");
  $("title").classList.toggle("long", $("title").textContent.length > 34);
  const box = $("telling");
  box.replaceChildren();
  const idle = { planned: "Everything is planned. The clock starts with your first touch.", finished: "The evening is over on this device. Its touches go to the house as soon as it answers; the report comes then." };
  if (doing?.lines.length) {
    const list = document.createElement("ol");
    list.className = "lines";
    list.append(...doing.lines.map((line) => Object.assign(document.createElement("li"), { textContent: line })));
    const read = Object.assign(document.createElement("button"), { type: "button", textContent: "Read it out" });
    read.addEventListener("click", () => cues.speak(doing.lines.join(" "), { asked: true }));
    box.append(list, paragraph("sheet", read));
  } else {
    const text = doing?.do || (doing ? "" : idle[core.status] ?? idle.finished);
    if (text) box.append(Object.assign(document.createElement("p"), { className: "do", textContent: text }));
  }
  if (doing?.kind === "prepare") {
    const sheet = Object.assign(document.createElement("a"), { className: "button", target: "_blank", rel: "noopener", textContent: "Its mix sheet" });
    sheet.href = `/bench/sheet?formula=${encodeURIComponent(doing.formula)}&volume_ml=${plan.tank_ml}${controlsOf(doing)}${bottlesOf(doing)}`;
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
  const list = document.createElement("ul");
  list.id = "cautions";
  list.hidden = true;
  const timed = doing?.ends_by === "clock" || doing?.kind === "clip";
  $("live").classList.toggle("timed", timed);
  const telling = doing ? doing.cautions.join(" ").length + (timed ? 0 : doing.do.length / 2) : 0;
  $("live").classList.toggle("much", telling > MUCH_TO_TELL);
  // At the bench the words are the work; in a bath the clock is, and what can hurt comes before the words.
  if (timed) box.prepend(list);
  else box.append(list);
  worstKey = null;
  const after = next();
  $("then").textContent = after ? `Then: ${after.title}` : "Then the evening is over.";
  $("place-in-evening").textContent = core.status === "planned" ? `${plan.actions.length} actions` : `${Math.min(core.index + 1, plan.actions.length)} of ${plan.actions.length}`;
  $("stage").scrollTop = 0;
  dark.show(doing && machine.DARK.has(doing.kind) ? doing : null);
  if (dark.on) for (const box_ of document.querySelectorAll("dialog[open]")) box_.close();
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
  return ["solvent_ml_per_l", "alkali_ml_per_l", "developer_parts_water"]
    .filter((name) => name in strip.controls)
    .map((name) => `&${name}=${strip.controls[name]}`)
    .join("");
}

/** The recipe that brings the bath, and the bottles that were chosen at the bench. */
function bottlesOf(doing) {
  const strip = plan.strips.find((each) => doing.strips.includes(each.name)) ?? plan.strips[0];
  const recipe = strip?.recipe ? `&recipe=${encodeURIComponent(strip.recipe)}` : "";
  const chosen = Object.entries(plan.choices ?? {}).map(([what, product]) => `&choose=${encodeURIComponent(`${what}:${product}`)}`);
  return recipe + chosen.join("");
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
  const reached = Math.max(core.index, ...core.ahead);
  [...ribbon.children].forEach((part, index) => {
    part.className = core.status === "planned" ? "" : index === core.index ? "now" : index < reached ? "gone" : "";
  });
  ribbon.setAttribute("aria-valuenow", String(Math.round(100 * machine.progressOf(plan, core, clock.now()))));
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
  const words = { ready: doing.kind === "clip" ? "is usual" : "once it is in", running: "left", draining: "pour it out", due: "over its time", doing: left > 0 ? "expected" : "take your time" }[is] ?? "";
  if ($("time-words").textContent !== words) $("time-words").textContent = words;
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
    text = "Paused. " + (doing?.ends_by === "clock" && core.clock_from_s !== null ? "The bath does not wait; the big button goes on." : "The big button goes on.");
  } else if (is === "ready") {
    text = doing.kind === "clip" ? "Lay the clip ready." : "Pour it in.";
    active = true;
  } else if (doing) {
    const list = cueList();
    const current = list.filter((cue) => cue.at_s <= now && now < cue.at_s + Math.max(cue.lasts_s, 4)).findLast((cue) => !["rest", "end"].includes(cue.kind));
    const after = list.find((cue) => cue.at_s > now && !["rest", "ready", "end"].includes(cue.kind));
    if (is === "due") {
      text = doing.kind === "reexpose" ? "Enough light." : "Pour it out.";
      active = true;
    } else if (current) {
      text = current.text;
      active = true;
    } else if (after) {
      text = `In ${length(after.at_s - now)}: ${after.text[0].toLowerCase()}${after.text.slice(1)}`;
    }
  }
  if (line.textContent !== text) {
    // The countdown is for the eye; only what is due now is told to a screen reader.
    line.setAttribute("aria-live", active ? "assertive" : "off");
    line.textContent = text;
  }
  line.classList.toggle("now", active);
}

function drawTouch(doing, is) {
  const words = {
    planned: "Begin the evening",
    ready: doing?.kind === "clip" ? "The drop is on: start the clock" : "It is in: start the clock",
    running: goesOn(is) ? "Go on" : "Nothing to do yet",
    draining: "It is out",
    due: "It is out",
    doing: { clip: { blacken: "It is black", bleach: "It is bleached", clear: "It is clear" }[doing?.clip], lay_out: "It all stands here", brief: "Read; light out", open: "It is open", may_open: "Go on", hang: "It hangs", hold_end: "It is out", wait: "They are warm", check: "Measured" }[doing?.kind] ?? "Done",
  }[core.status === "planned" ? "planned" : is];
  const button = $("touch");
  const text = (doing?.kind === "reexpose" && is === "due" ? "Enough light" : words) ?? "Waiting for the house";
  if (button.textContent !== text) button.textContent = text;
  button.classList.toggle("waiting", (is === "running" && !goesOn(is)) || machine.isOver(core));
  const pause = core.status === "paused" ? "Go on" : "Pause";
  if ($("pause").textContent !== pause) $("pause").textContent = pause;
}

/** What is worst to know now: [level, words], the worst first. */
function worstOf(doing, now) {
  const ahead = (look.deadlines ?? []).filter((item) => stillToCome(item));
  // While a bath may still be used, its use comes first; its destruction is told when the use is over.
  const inUse = new Set(ahead.filter((item) => item.kind === "life").map((item) => item.name));
  const found = ahead.filter((item) => item.kind === "life" || !inUse.has(item.name)).map((item) => {
    const left = item.by_s - now;
    const life = item.kind === "life";
    const words =
      left < 0
        ? `${item.name}: should have been ${life ? "used up" : "destroyed"} ${Math.round(-left / 60)} min ago.`
        : `${item.name}: ${life ? "use it up" : "destroy it"} by ${hour(item.by_s)}, in ${Math.ceil(left / 60)} min.`;
    return [left < 600 ? "danger" : "note", words];
  });
  found.push(...(doing?.cautions ?? []).map((line) => ["caution", line]));
  found.push(...plan.cautions.filter((c) => doing && c.level === "danger" && c.where === doing.key).map((c) => ["danger", c.text]));
  // What other evenings have left standing is not forgotten here.
  found.push(...duties.list.map(dutyLine));
  return found.sort((a, b) => LEVELS.indexOf(b[0]) - LEVELS.indexOf(a[0]));
}

/** What another evening has left to destroy: [level, words, where its steps are]; its time is counted here, house or not. */
function dutyLine({ what, why, steps, taken, left_s, by }) {
  const left = left_s === null ? null : Math.floor((left_s - (performance.now() - duties.heard) / 1000) / 60);
  const does = taken ? ` ${taken} does it.` : "";
  if (left === null) return ["danger", `${what}. ${why}${does}`, steps];
  const when = left < 0 ? `It had to be gone by ${by}, ${-left} min ago.` : `By ${by}, ${left} min are left.`;
  return [left < 10 ? "danger" : "caution", `${what}. ${when} It must not stand.${does}`, steps];
}

/** Others take them on and finish them meanwhile; a silent house changes nothing of what is shown. */
async function askDuties() {
  try {
    duties = { list: (await get(`/api/sink/runs/${run}/duties`)).duties, heard: performance.now() };
  } catch {
    // The watchdog tells of a silent house.
  }
}

/** A duty that this device has seen done is not asked for again while the house is silent. */
function stillToCome(item) {
  return !link.queue.length || action()?.key === item.to_action || machine.coming(plan, core).some((each) => each.key === item.to_action);
}

// What is drawn of it; null where it is to be drawn anew, though there be nothing to know.
let worstKey = null;

function drawWorst(doing, now) {
  const list = worstOf(doing, now);
  const text = list.flat().join("|");
  const box = $("cautions");
  if (!box || worstKey === text) return;
  worstKey = text;
  const [worst, ...others] = list;
  $("worst").hidden = !worst;
  if (worst) {
    $("worst").className = `worst ${worst[0]}`;
    $("worst").replaceChildren(icon(worst[0]), Object.assign(document.createElement("span"), { textContent: worst[1] }));
  }
  // The worst stands in the first screen; where it has steps, they are below it.
  const below = worst?.[2] ? list : others;
  box.hidden = below.length === 0;
  below.forEach(([level, line, steps], index) => {
    // What is there stays there: whoever stands on "Its steps" must not lose the place because a minute has gone.
    const item = box.children[index] ?? box.appendChild(document.createElement("li"));
    const link_ = item.querySelector("a");
    const told_ = Object.assign(document.createElement("span"), { textContent: line });
    item.className = level;
    if (link_ && link_.getAttribute("href") === steps) {
      item.querySelector("svg").replaceWith(icon(level));
      item.querySelector("span").replaceWith(told_);
      return;
    }
    item.replaceChildren(icon(level), told_);
    // They open beside this page, which goes on.
    if (steps) item.append(Object.assign(document.createElement("a"), { className: "button", href: steps, target: "_blank", rel: "noopener", textContent: "Its steps" }));
  });
  while (box.children.length > below.length) box.lastElementChild.remove();
}

/** What the lower edge of the stage would cut is covered from its beginning on, and it is told that there is more. */
function drawFold() {
  const stage = $("stage");
  const more = stage.scrollHeight - stage.clientHeight - stage.scrollTop > 2;
  const cover = $("fold");
  cover.hidden = !more;
  if (!more) return;
  const { top, bottom } = stage.getBoundingClientRect();
  // What fills the stage by itself is scrolled through.
  const begins = top + 0.4 * (bottom - top);
  const cut = [...stage.querySelectorAll($("live").classList.contains("timed") ? "#cautions li, .sheet, .do" : "#cautions li, .sheet")]
    .map((each) => each.getBoundingClientRect())
    .find((box) => box.height && box.top > begins && box.top < bottom && box.bottom > bottom);
  const height = cut ? Math.ceil(bottom - cut.top) : 0;
  cover.style.height = `${height}px`;
  const words = height >= FOLD_WORDS_PX ? "\u25BE More below" : "";
  if (cover.textContent !== words) cover.textContent = words;
}
$("stage").addEventListener("scroll", drawFold, { passive: true });
const room = new ResizeObserver(drawFold);
for (const each of [$("stage"), ...$("stage").children]) room.observe(each);

/** m:ss, rounded up so that 0:00 is the end and not the last second. */
function length(seconds, down = false) {
  const whole = Math.max(0, down ? Math.floor(seconds) : Math.ceil(seconds - 0.001));
  const minutes = Math.floor(whole / 60);
  const rest = String(whole % 60).padStart(2, "0");
  return minutes >= 60 ? `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}:${rest}` : `${minutes}:${rest}`;
}

// Twenty-four hours everywhere, as the house writes them: a browser's own habit would put both kinds on one screen.
const hour = (instant) => toTheSecond(instant).slice(0, 5);
const toTheSecond = (instant) => {
  const at = new Date(instant * 1000);
  return [at.getHours(), at.getMinutes(), at.getSeconds()].map((part) => String(part).padStart(2, "0")).join(":");
};

// That was wrong: for two minutes beside the big button, in the dialog for as long as the evening lasts

const PRESSED = { started: "Begin the evening", poured: "It is in", acknowledged: "Done", step_repeated: "Repeat", step_skipped: "Leave out", finished: "The end", aborted: "The end" };

/** Entries of this device that the house has not got yet, then what the house has of this evening, the newest first. */
function entries() {
  const here = link.queue
    .filter((event) => ["temperature_noted", "note", "step_extended", "agitation_skipped"].includes(event.kind))
    .map((event) => ({ ...event, id: event.event_id, title: plan.actions.find((each) => each.key === event.action)?.title ?? "" }));
  return [...here.reverse(), ...(look.entries ?? [])];
}

function drawWrong(now) {
  const fresh = (at) => now - at < WRONG_FOR_S * first.speed;
  const press = core.press;
  const show = Boolean((press && fresh(press.at_s)) || entries().some((each) => fresh(each.at_s)));
  if ($("wrong-button").hidden === show) $("wrong-button").hidden = !show;
}

function openWrong() {
  const box = $("wrong-list");
  const rows = [];
  const press = core.press;
  if (press) {
    const title = plan.actions.find((each) => each.key === press.action)?.title;
    const row = wrongRow([`“${PRESSED[press.kind] ?? press.kind}”`, title, toTheSecond(press.at_s)].filter(Boolean).join(", "));
    row.append(button("Take it back", () => takeBack(press.id)));
    if (press.kind !== "started") row.append(...field("It truly was at", "text", toTheSecond(press.at_s), (text) => {
      const to = instantOf(text, press.at_s);
      return to === null ? "Write the time like 20:15:30." : change(press.id, { to_s: to });
    }));
    rows.push(row);
  }
  for (const each of entries()) {
    const value = { temperature_noted: temperature(each.temperature_c), note: each.text, photo: "the picture", step_extended: `${each.seconds} s longer`, agitation_skipped: "agitation left out" }[each.kind] ?? each.kind;
    const row = wrongRow(`${value}, ${each.title}, ${toTheSecond(each.at_s)}`);
    row.append(button("Strike it", () => takeBack(each.id)));
    if (each.kind === "temperature_noted") {
      row.append(...field(`It was, ${degreeSign}`, "text", String(degreesOf(each.temperature_c)), (text) => temperatureOf(text, each.action, (value_, sure) => change(each.id, { temperature_c: value_, sure })), { inputMode: "decimal" }));
    }
    if (each.kind === "note") row.append(...field("It should read", "text", each.text, (text) => (text.trim() ? change(each.id, { text }) : "Write something, or strike the note.")));
    rows.push(row);
  }
  if (!rows.length) rows.push(Object.assign(document.createElement("li"), { textContent: "Nothing has been touched or written yet." }));
  box.replaceChildren(...rows);
  $("wrong").showModal();
}

function wrongRow(words) {
  const row = document.createElement("li");
  row.append(Object.assign(document.createElement("p"), { textContent: words }));
  return row;
}

function button(words, work) {
  const element = Object.assign(document.createElement("button"), { type: "button", textContent: words });
  element.addEventListener("click", work);
  return element;
}

/** A field with its own button; `work(text)` returns what is wrong in words, an element to ask with, or nothing. */
function field(label, type, value, work, more = {}) {
  const input = Object.assign(document.createElement("input"), { type, value, autocomplete: "off", ...more });
  const line = document.createElement("label");
  const wrong = Object.assign(document.createElement("p"), { className: "field-error", hidden: true });
  wrong.setAttribute("role", "alert");
  line.append(label, input);
  const go = button("Change it", () => complain(input, wrong, work(input.value)));
  return [line, go, wrong];
}

/** Say beside the field what is wrong with it; what was typed stays. */
function complain(input, line, wrong) {
  line.hidden = !wrong;
  input.toggleAttribute("aria-invalid", Boolean(wrong));
  if (wrong) {
    input.setAttribute("aria-invalid", "true");
    line.replaceChildren(wrong);
    input.focus();
  }
}

function takeBack(id) {
  send("taken_back", { of: id, action: "" });
  closeAll();
}

function change(id, more) {
  send("changed", { of: id, action: "", ...more });
  closeAll();
  return "";
}

/** The instant of a time of day near another instant; null for words that are none. */
function instantOf(text, near) {
  const found = /^(\d{1,2}):(\d{2})(?::(\d{2}))?$/.exec(text.trim());
  if (!found) return null;
  const day = new Date(near * 1000);
  day.setHours(Number(found[1]), Number(found[2]), Number(found[3] ?? 0), 0);
  const at = day.getTime() / 1000;
  const half = 43_200;
  return at - near > half ? at - 2 * half : near - at > half ? at + 2 * half : at;
}

/** A temperature as it is typed: what is wrong in words, a question with its two answers, or nothing and it is kept. */
function temperatureOf(text, key, keep) {
  const value = celsiusOf(text);
  if (text.trim() === "" || !Number.isFinite(value)) return `“${text}” is not a number; write it like ${degreesOf(20.5)}.`;
  if (value < -5 || value > 100) return `${temperature(value)} cannot be kept; a bath lies between ${temperature(-5)} and ${temperature(100)}.`;
  const doing = plan.actions.find((each) => each.key === key);
  const limits = plan.asked[["bath", "rinse", "wash", "check"].includes(doing?.kind) ? "bath" : "elsewhere"];
  if (limits[0] <= value && value <= limits[1]) {
    keep(value, false);
    return "";
  }
  // The other scale was meant: a number that was typed for F on a page in C, or the other way round.
  const other = units.temperature === "f" ? "c" : "f";
  const celsius = celsiusOf(`${text.replace(/[^\d.,\u2212-]/g, "")} ${other}`);
  const could = plan.asked.bath[0] <= celsius && celsius <= plan.asked.bath[1];
  const question = document.createDocumentFragment();
  question.append(Object.assign(document.createElement("span"), { textContent: `${temperature(value)} is hardly the temperature of a bath.` }));
  if (could) question.append(button(`It was ${text.trim().replace(/\s*°?\s*[cf]$/i, "")} °${other.toUpperCase()}: keep ${temperature(Math.round(celsius * 10) / 10)}`, () => keep(Math.round(celsius * 10) / 10, false)));
  question.append(button(`It was ${temperature(value)}: keep it`, () => keep(value, true)));
  return question;
}

// Keys, dialogs, settings

const closeAll = () => {
  for (const box of document.querySelectorAll("dialog[open]")) box.close();
};

// Whoever has written something down presses the big button next, not again what opened the dialog.
for (const box of document.querySelectorAll("dialog")) box.addEventListener("close", () => $("touch").focus());

document.addEventListener("keydown", (event) => {
  if (dark.on) {
    // Tab would lead to what lies behind the black.
    if (event.key === "Tab") event.preventDefault();
    dark.key(event);
    return;
  }
  if (event.repeat || event.ctrlKey || event.metaKey || event.altKey || !KEYS.has(event.key) || document.querySelector("dialog[open]")) return;
  const own = event.target.closest?.("button, a, input, select, summary, dialog");
  if (own && own !== $("touch") && event.key !== "PageDown") return;
  // Whoever has gone to the text by Tab reads on with the key that scrolls.
  if (document.activeElement === $("stage") && event.key === "PageDown") return;
  event.preventDefault();
  touch();
});
$("touch").addEventListener("click", (event) => {
  // A key has been counted already; a click that a key made carries no pointer.
  if (event.detail !== 0 || event.pointerType) touch();
});
$("more-button").addEventListener("click", () => {
  fillSteps();
  $("more").showModal();
});
$("wrong-button").addEventListener("click", openWrong);
$("wrong-more").addEventListener("click", () => {
  $("more").close();
  openWrong();
});

$("temperature-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const key = action()?.key ?? "";
  const wrong = temperatureOf($("temperature").value, key, (value, sure) => {
    send("temperature_noted", { action: key, temperature_c: value, ...(sure ? { sure } : {}) });
    $("temperature").value = "";
    complain($("temperature"), $("temperature-wrong"), "");
    closeAll();
  });
  complain($("temperature"), $("temperature-wrong"), wrong);
});
for (const each of document.querySelectorAll("[data-extend]")) {
  each.addEventListener("click", () => {
    send("step_extended", { seconds: Number(each.dataset.extend) });
    closeAll();
  });
}
$("skipped").addEventListener("click", () => {
  send("agitation_skipped");
  closeAll();
});
$("pause").addEventListener("click", () => {
  send(core.status === "paused" ? "resumed" : "paused");
  closeAll();
});
$("note-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = $("note").value;
  complain($("note"), $("note-wrong"), text.trim() ? "" : "The note is empty; write something.");
  if (!text.trim()) return;
  send("note", { text });
  $("note").value = "";
  closeAll();
});
$("photo-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const file = $("photo").files[0];
  complain($("photo"), $("photo-wrong"), file ? "" : "Choose a picture first.");
  if (!file) return;
  const form = new FormData();
  form.append("picture", file);
  const answer = await attempt(() => postForm(`${link.base}/photo`, form));
  if (answer) {
    $("photo").value = "";
    say("The picture is kept.");
    closeAll();
  }
});
$("cut").addEventListener("click", () => {
  if (!action() || core.clock_from_s === null) {
    say("No bath is in the tank.");
    return;
  }
  send("acknowledged", { cut_short: true });
  closeAll();
});
$("abort-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = $("abort-reason").value;
  complain($("abort-reason"), $("abort-wrong"), text.trim() ? "" : "Say in a word why; it stands in the report.");
  if (!text.trim()) return;
  send("aborted", { text });
  closeAll();
});

// A step once more, or left out: what that does is shown before it is done

function fillSteps() {
  $("step").replaceChildren(...(look.repeatable ?? []).map((each) => Object.assign(document.createElement("option"), { value: each.key, textContent: each.title })));
  $("repeat").disabled = !(look.repeatable ?? []).length;
  $("effect").hidden = true;
}

async function ask(kind, key) {
  const reason = $("step-reason").value;
  complain($("step-reason"), $("step-wrong"), reason.trim() ? "" : "Say in a word why; it stands in the report.");
  if (!reason.trim()) return;
  const event = { kind, action: key, text: reason };
  const told_ = await attempt(() => post(`${link.base}/what-if`, { event_id: "what-if", ...event }));
  if (!told_) return;
  const box = $("effect");
  box.replaceChildren(...told_.sentences.map((line) => Object.assign(document.createElement("p"), { textContent: line })));
  if (!told_.refused) {
    box.append(
      button(kind === "step_repeated" ? "Yes, repeat it" : "Yes, leave it out", () => {
        send(kind, { action: key, text: reason });
        $("step-reason").value = "";
        closeAll();
      }),
      button("No", () => (box.hidden = true)),
    );
  }
  box.hidden = false;
  box.focus();
}
$("repeat").addEventListener("click", () => ask("step_repeated", $("step").value));
$("leave-out").addEventListener("click", () => ask("step_skipped", action()?.key ?? ""));

for (const name of ["sound", "speech", "vibration", "sight"]) {
  const box = $(`by-${name}`);
  try {
    const kept_ = localStorage.getItem(`obverse-cue-${name}`);
    if (kept_ !== null) cues.by[name] = kept_ === "yes";
    if (name === "speech") cues.silenced = kept_ === "no";
  } catch {
    // Forbidden storage: the usual settings.
  }
  box.checked = cues.by[name];
  box.addEventListener("change", () => {
    cues.by[name] = box.checked;
    if (name === "speech") cues.silenced = !box.checked;
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
  askDuties();
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
setInterval(askDuties, DUTIES_EVERY_MS);
clock.sync().then(() => {
  planCues();
  draw();
});
planCues();
drawParted();
draw();
if (core.status === "planned" || !("wakeLock" in navigator)) keepAwake();

// A device that only looks on may sound after a tap anywhere; a tap beside the button changes nothing.
document.addEventListener("pointerdown", () => cues.unlock());
if (core.status === "running" && !dark.on) say("Tap the title once, and this device may sound too.");

// For measuring: what this page believes.
window.obverseSink = { now: () => clock.now(), core: () => ({ ...core }), fired: () => cues.fired, answers: () => cues.answers, waiting: () => link.queue.length, settled, heeds, counts, sure: () => clock.sure };
