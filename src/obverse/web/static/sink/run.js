// The run as the page knows it between two words of the house: a pure state machine, the same as
// obverse/run/state.py and view.py in what a page may do without the house. Golden traces are played
// through both (tests/browser/test_sink_traces.py).
//
// A core is { status, index, ahead, began_s, clock_from_s, extended_s, skipped, press }.

export const EARLY_TOUCH_S = 1;
const MOST_EXTENSION_S = 4 * 3600;
const PRESSES = new Set(["started", "poured", "acknowledged", "step_skipped", "aborted", "finished"]);
export const DARK = new Set(["lights_out", "load", "join", "light_on"]);

const FIELDS = ["status", "index", "ahead", "began_s", "clock_from_s", "extended_s", "skipped"];

export function begin() {
  return { status: "planned", index: 0, ahead: [], began_s: null, clock_from_s: null, extended_s: 0, skipped: 0, press: null };
}

/** The core of what the house says. */
export function coreOf(look) {
  return { ...placeOf(look), press: look.press ?? null };
}

function placeOf(core) {
  return Object.fromEntries(FIELDS.map((name) => [name, core[name]]));
}

export const isOver = (core) => core.status === "finished" || core.status === "aborted";

/** The action in hand; null before the start and after the end. */
export function actionOf(plan, core) {
  return ["running", "paused"].includes(core.status) ? plan.actions[core.index] ?? null : null;
}

/** The actions after the one in hand, in the order in which they will come. */
export function coming(plan, core) {
  if (isOver(core)) return [];
  if (core.status === "planned") return plan.actions;
  const last = core.ahead.at(-1) ?? core.index;
  return [...core.ahead.map((index) => plan.actions[index]), ...plan.actions.slice(last + 1)];
}

/** Instant at which the present action is due to end; null while it waits to be poured in. */
export function dueOf(plan, core) {
  const action = actionOf(plan, core);
  return action === null || core.clock_from_s === null ? null : core.clock_from_s + action.duration_s + core.extended_s;
}

export function phaseOf(plan, core, now) {
  const action = actionOf(plan, core);
  if (action === null) return core.status;
  const due = dueOf(plan, core);
  if (due === null) return "ready";
  if (action.ends_by === "person") return "doing";
  if (now >= due) return "due";
  return now >= due - action.drain_s ? "draining" : "running";
}

/** The cues of the present action with their instants; an extension moves the end and goes on agitating. */
export function cuesOf(plan, core) {
  const action = actionOf(plan, core);
  if (action === null || core.clock_from_s === null) return [];
  const moves = action.cues.filter((cue) => cue.kind === "agitate");
  // A cue is known by its place in the plan, not by its instant: the house may correct that by a hair, and nobody wants it told twice.
  const found = action.cues.map((cue) => {
    const late = cue.kind === "agitate" ? 0 : core.extended_s;
    return { ...cue, at_s: core.clock_from_s + cue.at_s + late, key: `${action.key} ${cue.kind} ${cue.at_s} ${late}` };
  });
  if (core.extended_s > 0 && moves.length >= 3) {
    const every = moves.at(-1).at_s - moves.at(-2).at_s;
    const last = action.duration_s + core.extended_s - action.drain_s;
    for (let at = moves.at(-1).at_s + every; every > 0 && at + moves.at(-1).lasts_s <= last; at += every) {
      found.push({ ...moves.at(-1), at_s: core.clock_from_s + at, key: `${action.key} agitate ${at} 0` });
    }
  }
  return found.sort((a, b) => a.at_s - b.at_s);
}

/** When the hands will be free, if the rest goes as planned; null before the start and after the end. */
export function endOf(plan, core, now) {
  const action = actionOf(plan, core);
  if (action === null) return null;
  const due = dueOf(plan, core);
  const end = due === null ? Math.max(now, core.began_s + action.pour_s) + action.duration_s : Math.max(now, due);
  return end + lengthOf(coming(plan, core));
}

/** Share of the planned evening that is behind; what is repeated counts once. */
export function progressOf(plan, core, now) {
  if (core.status === "finished") return 1;
  const total = lengthOf(plan.actions);
  let behind = lengthOf(plan.actions.slice(0, Math.max(core.index, ...core.ahead, 0)));
  const action = actionOf(plan, core);
  if (action !== null && !core.ahead.length && core.clock_from_s !== null) {
    behind += action.pour_s + Math.min(Math.max(0, now - core.clock_from_s), action.duration_s);
  }
  return total > 0 ? Math.min(1, behind / total) : 0;
}

const lengthOf = (actions) => actions.reduce((sum, each) => sum + each.pour_s + each.duration_s, 0);

/** Why an event would change nothing, as the house says it: { kind, seconds }; null where it counts, or where only the house can tell. */
export function refusalOf(plan, core, event) {
  const kind = WHY_NOT[event.kind]?.(plan, core, event) ?? null;
  return kind === null || typeof kind === "object" ? kind : { kind };
}

const other = (action, event) => action === null || (event.action && event.action !== action.key);

const WHY_NOT = {
  started: (plan, core) => (core.status === "planned" ? null : "begun"),
  poured(plan, core, event) {
    const action = actionOf(plan, core);
    if (action?.key !== event.action || !action.waits_for_pour) return "another_bath";
    return core.clock_from_s === null ? null : "in_already";
  },
  acknowledged(plan, core, event) {
    const action = actionOf(plan, core);
    if (action === null) return "not_running";
    if (action.key !== event.action) return "moved_on";
    if (core.clock_from_s === null) return "not_in_yet";
    const left = dueOf(plan, core) - Math.max(event.at_s, core.clock_from_s);
    const early = action.ends_by === "clock" && left - action.drain_s - EARLY_TOUCH_S > 0;
    return early && !event.cut_short ? { kind: "too_early", seconds: left } : null;
  },
  step_skipped(plan, core, event) {
    const action = actionOf(plan, core);
    if (action?.key !== event.action) return "not_in_hand";
    return inTank(action, core) ? "end_it_instead" : null;
  },
  step_extended: (plan, core, event) => (other(actionOf(plan, core), event) ? "over_already" : null),
  agitation_skipped: (plan, core, event) => (other(actionOf(plan, core), event) ? "over_already" : null),
  paused: (plan, core) => (core.status === "running" ? null : "not_running"),
  resumed: (plan, core) => (core.status === "paused" ? null : "not_paused"),
  aborted: (plan, core) => (isOver(core) ? "ended_already" : null),
};

/** The core after an event; the same core where it has no effect, or where only the house can tell (a repeated step, a correction of what is long past). */
export function advance(plan, core, event) {
  if (refusalOf(plan, core, event)) return core;
  const next = HANDLERS[event.kind]?.(plan, core, event) ?? core;
  if (next === core || !PRESSES.has(event.kind)) return next;
  const press = { id: event.id ?? "", kind: event.kind, action: actionOf(plan, core)?.key ?? "", at_s: event.at_s, device: event.device ?? "", before: placeOf(core) };
  return { ...next, press };
}

function enter(plan, core, index, at, ahead = []) {
  const action = plan.actions[index];
  const fresh = { ...core, index, ahead, extended_s: 0, skipped: 0 };
  if (!action) return { ...fresh, status: "finished", began_s: null, clock_from_s: null };
  return { ...fresh, began_s: at, clock_from_s: action.waits_for_pour ? null : at };
}

const onward = (plan, core, at) =>
  core.ahead.length ? enter(plan, core, core.ahead[0], at, core.ahead.slice(1)) : enter(plan, core, core.index + 1, at);

const awake = (core) => (core.status === "paused" ? { ...core, status: "running" } : core);
const inTank = (action, core) => action.waits_for_pour && core.clock_from_s !== null;

const HANDLERS = {
  started: (plan, core, event) => enter(plan, { ...core, status: "running" }, 0, event.at_s),
  poured: (plan, core, event) => ({ ...awake(core), clock_from_s: Math.max(event.at_s, core.began_s) }),
  acknowledged: (plan, core, event) => onward(plan, awake(core), Math.max(event.at_s, core.clock_from_s)),
  step_skipped: (plan, core, event) => onward(plan, awake(core), Math.max(event.at_s, core.began_s ?? 0)),
  step_extended: (plan, core, event) =>
    event.seconds > 0 && event.seconds <= MOST_EXTENSION_S ? { ...core, extended_s: core.extended_s + event.seconds } : core,
  agitation_skipped: (plan, core) => ({ ...core, skipped: core.skipped + 1 }),
  paused: (plan, core) => ({ ...core, status: "paused" }),
  resumed: (plan, core) => awake(core),
  aborted: (plan, core) => ({ ...awake(core), status: "aborted" }),
  /** Only the last touch can be taken back without the house; anything else waits for its word. */
  taken_back: (plan, core, event) => (core.press && core.press.id === event.of && event.of ? { ...core.press.before, press: null } : core),
};
