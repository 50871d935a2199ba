// The camera of this device as densitometer: a live picture, a bracket taken by itself, the densities at once.

import { attempt, get, icon, post, postForm, tell, toneStrip } from "/static/house/house.js";

const $ = (id) => document.getElementById(id);
const FRAMES = 12; // averaged for each exposure: noise falls to a third, and steps between codes fill up
const LOOK_MS = 1500, LOOK_WIDE = 720;
const TRIES = 3, AGAIN_MS = 1500; // while the house does not answer
// `taken` are the exposures of a bracket that wait to be sent and read; `patches` is the number that was asked for with them.
const state = { stream: null, track: null, seen: null, opening: false, looking: false, taking: false, timer: 0, taken: [], patches: 0 };

const TROUBLE = {
  NotAllowedError: "The camera was not allowed. Allow it for this page in the browser's settings and open it again, or choose pictures below.",
  NotFoundError: "This device has no camera that a page may use. Choose pictures below.",
  NotReadableError: "Another program holds the camera. Close it there and open it again here.",
  OverconstrainedError: "The camera cannot give such a picture. Choose pictures below.",
};

function trouble(words) {
  $("trouble").hidden = !words;
  $("trouble").firstElementChild.textContent = words ?? "";
}

async function open() {
  if (state.opening || state.stream) return;
  trouble(null);
  if (!navigator.mediaDevices?.getUserMedia) {
    const sealed = window.isSecureContext ? "This browser gives no camera to a page." : "A browser gives its camera only to a sealed page (https).";
    return trouble(`${sealed} Choose pictures below.`);
  }
  state.opening = true;
  try {
    state.stream = await navigator.mediaDevices.getUserMedia({ audio: false, video: { facingMode: { ideal: "environment" }, width: { ideal: 1920 }, height: { ideal: 1080 } } });
  } catch (error) {
    return trouble(TROUBLE[error.name] ?? `The camera did not open (${error.name}). Choose pictures below.`);
  } finally {
    state.opening = false;
  }
  [state.track] = state.stream.getVideoTracks();
  state.track.addEventListener("ended", () => close("The camera was taken away. Open it again, or choose pictures below."));
  $("video").srcObject = state.stream;
  shown(true);
  // It also plays by itself; a browser that waits for a press is told by what is seen, not by a refusal.
  await $("video").play().catch(() => {});
  look();
}

function close(words = null) {
  window.clearTimeout(state.timer);
  state.stream?.getTracks().forEach((track) => track.stop());
  [state.stream, state.track, state.seen, state.taking] = [null, null, null, false];
  shown(false);
  trouble(words);
}

function shown(open) {
  $("stage").hidden = $("take").hidden = $("stop").hidden = !open;
  $("start").hidden = open;
  $("sees").textContent = open ? "looking" : "";
}

// Looking -----------------------------------------------------------------------------------------

function frame(wide) {
  const video = $("video"), scale = Math.min(1, wide / Math.max(video.videoWidth, video.videoHeight));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(video.videoWidth * scale);
  canvas.height = Math.round(video.videoHeight * scale);
  canvas.getContext("2d", { willReadFrequently: true }).drawImage(video, 0, 0, canvas.width, canvas.height);
  return canvas;
}

async function look() {
  window.clearTimeout(state.timer);
  if (!state.stream) return;
  const patches = asked();
  if (!patches) $("sees").textContent = "how many patches?";
  else if (!document.hidden && !state.taking && !state.looking && $("video").videoWidth) {
    state.looking = true;
    try {
      const canvas = frame(LOOK_WIDE), form = new FormData();
      form.append("files", await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.92)), "look.jpg");
      state.seen = { ...(await postForm(`/api/light-table/frames/look?patches=${patches}`, form)), width: canvas.width, height: canvas.height };
      if (state.stream) $("sees").textContent = state.seen.found ? "strip seen" : "no strip seen yet";
    } catch (error) {
      state.seen = null;
      if (state.stream) $("sees").textContent = error.status ? "no strip seen yet" : "the house does not answer";
    }
    state.looking = false;
    draw();
  }
  state.timer = window.setTimeout(look, LOOK_MS);
}

function draw() {
  const canvas = $("over"), video = $("video");
  if (!video.videoWidth) return;
  canvas.width = video.videoWidth;
  canvas.height = video.videoHeight;
  const context = canvas.getContext("2d"), unit = Math.max(canvas.width / 900, 1);
  const line = (points, colour, wide, dash = []) => {
    for (const [stroke, width] of [["rgba(0,0,0,0.7)", wide * 2.2], [colour, wide]]) {
      context.setLineDash(dash);
      context.beginPath();
      points.forEach(([x, y], k) => context[k ? "lineTo" : "moveTo"](x, y));
      context.closePath();
      context.strokeStyle = stroke;
      context.lineWidth = width * unit;
      context.stroke();
    }
  };
  const [w, h] = [canvas.width, canvas.height];
  if (state.seen?.found) {
    const scale = w / state.seen.width;
    for (const patch of state.seen.patches) line(patch.map(([x, y]) => [(x + 0.5) * scale, (y + 0.5) * scale]), "#ffffff", 1.4);
    return;
  }
  // Where things should lie: upright when the device is held upright.
  const lying = w >= h, box = (x, y, wide, high) => [[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]];
  line(box(0.03 * w, 0.03 * h, 0.94 * w, 0.94 * h), "#8fd0ff", 1.4, [8 * unit, 6 * unit]);
  line(lying ? box(0.12 * w, 0.36 * h, 0.76 * w, 0.28 * h) : box(0.36 * w, 0.12 * h, 0.28 * w, 0.76 * h), "#ffb04a", 2);
  line(box(0.82 * w, 0.8 * h, 0.12 * w, 0.12 * h), "#8fd0ff", 1.4, [3 * unit, 3 * unit]);
}

// Taking ------------------------------------------------------------------------------------------

/** Shutter times that the device lets a page set, short to long; one "as it is" where it lets none be set. */
function exposures() {
  const can = state.track.getCapabilities?.() ?? {};
  if (!can.exposureTime || !can.exposureMode?.includes("manual")) return [null];
  const now = state.track.getSettings().exposureTime || Math.sqrt(can.exposureTime.min * can.exposureTime.max);
  const times = [now, 4 * now, 16 * now].map((t) => Math.min(Math.max(t, can.exposureTime.min), can.exposureTime.max));
  return [...new Set(times)];
}

/** How many patches, as typed; 0 where that is no number of patches. */
function asked() {
  const typed = Number($("patches").value);
  return Number.isInteger(typed) && typed >= 1 && typed <= 200 ? typed : 0;
}

const NO_NUMBER = "The number of patches is a whole number from 1 to 200.";

async function take() {
  if (state.taking || !state.stream) return;
  const patches = asked();
  if (!patches) return tell(NO_NUMBER);
  await working(async () => {
    try {
      const times = exposures(), taken = [];
      for (const [n, time] of times.entries()) {
        if (time !== null) {
          await state.track.applyConstraints({ advanced: [{ exposureMode: "manual", exposureTime: time }] });
          await new Promise((done) => setTimeout(done, 600));
        }
        progress(n / times.length, times.length > 1 ? `exposure ${n + 1} of ${times.length}` : "taking one exposure; this device lets no page set it");
        // The device takes the nearest time that it has, and says which.
        taken.push({ ...(await averaged()), time: time === null ? null : state.track.getSettings().exposureTime || time });
      }
      [state.taken, state.patches] = [taken, patches];
    } catch (error) {
      if (state.stream) throw error;
      return trouble($("trouble").firstElementChild.textContent || "The camera was closed before the bracket was taken. Open it and take it again.");
    } finally {
      if (state.track && exposures().length > 1) await state.track.applyConstraints({ advanced: [{ exposureMode: "continuous" }] }).catch(() => {});
    }
    await send();
  });
}

/** Taken pictures go to the house and are read; what did not arrive waits here to be sent again. */
async function send() {
  $("resend").hidden = true;
  try {
    for (const [n, one] of state.taken.entries()) {
      progress(n / state.taken.length, "sending");
      one.id ??= (await surely(() => keep(one))).id;
    }
    await result(state.taken.map((one) => one.id), state.patches);
    state.taken = [];
  } catch (error) {
    $("resend").hidden = Boolean(error.status ?? true);
    throw error;
  }
}

/** While the house does not answer, a few times. */
async function surely(work) {
  for (let n = 1; ; n++) {
    try {
      return await work();
    } catch (error) {
      if (error.status !== 0 || n === TRIES) throw error;
      $("words").textContent = "The house does not answer; what was taken is kept here and sent again.";
      await new Promise((done) => setTimeout(done, AGAIN_MS));
    }
  }
}

async function working(work) {
  state.taking = true;
  $("take").disabled = $("resend").disabled = true;
  $("working").hidden = false;
  await attempt(work);
  state.taking = false;
  $("take").disabled = $("resend").disabled = false;
  $("working").hidden = true;
}

const BEHIND = "The page was in the background; keep it in front while the bracket is taken.";

/** The mean of several frames, sixteen bits deep. */
async function averaged() {
  const video = $("video"), [width, height] = [video.videoWidth, video.videoHeight];
  const sum = new Uint32Array(width * height * 3);
  for (let n = 0; n < FRAMES; n++) {
    await nextFrame(video);
    if (document.hidden) throw new Error(BEHIND);
    if (video.videoWidth !== width || video.videoHeight !== height) throw new Error("The phone was turned while the bracket was taken. Take it again.");
    const { data } = frame(Math.max(width, height)).getContext("2d").getImageData(0, 0, width, height);
    for (let from = 0, to = 0; to < sum.length; from += 4, to += 3) {
      sum[to] += data[from];
      sum[to + 1] += data[from + 1];
      sum[to + 2] += data[from + 2];
    }
  }
  const codes = new Uint16Array(sum.length);
  for (let k = 0; k < sum.length; k++) codes[k] = Math.round((sum[k] * 257) / FRAMES);
  return { codes, width, height };
}

function nextFrame(video) {
  return new Promise((done, fail) => {
    const late = setTimeout(() => fail(new Error(document.hidden ? BEHIND : "The camera sends no pictures any more. Close it and open it again.")), 5000);
    const come = () => (clearTimeout(late), done());
    if (video.requestVideoFrameCallback) video.requestVideoFrameCallback(come);
    else setTimeout(come, 60);
  });
}

async function keep({ codes, width, height, time }) {
  const form = new FormData();
  form.append("files", new Blob([codes], { type: "application/octet-stream" }), "frames");
  const asked = new URLSearchParams({ width, height });
  // Devices state the time in tenths of milliseconds.
  if (time !== null) asked.set("exposure_s", time / 10000);
  return postForm(`/api/light-table/frames?${asked}`, form);
}

async function result(ids, patches) {
  // The same picture chosen twice is kept once.
  const pictures = [...new Set(ids)];
  $("result").hidden = $("refused").hidden = true;
  try {
    const { job } = await surely(() => post("/api/light-table/pictures/read", { pictures, patches, corners: null, panel: "", calibrated: true }));
    let answer;
    do {
      await new Promise((done) => setTimeout(done, 200));
      answer = await surely(() => get(`/api/light-table/pictures/jobs/${job}`));
      progress(answer.share, answer.words);
    } while (!answer.done);
    show(answer.reading, pictures[0], patches);
  } catch (error) {
    if (!(error.status >= 400 && error.status < 500)) throw error;
    refused(error, pictures[0], patches);
  }
}

const onward = (first, patches) => `/light-table/picture?${new URLSearchParams({ picture: first, patches })}`;

/** What cannot be read is kept all the same, and the person may say where it lies. */
function refused(error, first, patches) {
  $("refused").hidden = false;
  $("refused-words").textContent = error.message;
  $("by-hand").href = onward(first, patches);
  $("refused").scrollIntoView({ block: "nearest" });
}

function progress(share, words) {
  $("progress").value = share;
  $("words").textContent = words;
}

function show(reading, first, patches) {
  $("result").hidden = false;
  toneStrip($("strip"), reading.patches.map((p) => p.density));
  curve(reading.patches);
  $("cautions").replaceChildren(...reading.cautions.map((item) => {
    const box = document.createElement("div"), text = document.createElement("p");
    box.className = `caution caution-${item.level}`;
    text.textContent = item.text;
    box.append(icon(item.level), text);
    return box;
  }));
  $("onward").href = onward(first, patches);
  $("result").scrollIntoView({ block: "nearest" });
}

/** Density from patch to patch, with its 90 per cent interval. */
function curve(patches) {
  const most = Math.max(3, ...patches.map((p) => p.density)), make = (name, given) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(given)) made.setAttribute(key, value);
    return made;
  };
  const x = (k) => 30 + (280 * (k + 0.5)) / patches.length, y = (d) => 165 - (150 * Math.min(Math.max(d, 0), most)) / most;
  const axis = [0, 1, 2, 3].map((d) => {
    const words = make("text", { x: 4, y: y(d) + 4, "font-size": 11, fill: "currentColor" });
    words.textContent = d;
    return [make("line", { x1: 22, x2: 314, y1: y(d), y2: y(d), stroke: "currentColor", "stroke-opacity": 0.2 }), words];
  });
  $("curve").replaceChildren(
    ...axis.flat(),
    ...patches.map((p, k) => make("line", { x1: x(k), x2: x(k), y1: y(p.low90), y2: y(p.high90), stroke: "currentColor", "stroke-opacity": 0.5, "stroke-width": 2 })),
    make("polyline", { points: patches.map((p, k) => `${x(k)},${y(p.density)}`).join(" "), fill: "none", stroke: "currentColor", "stroke-width": 1.5 }),
    ...patches.map((p, k) => make("circle", { cx: x(k), cy: y(p.density), r: 3, fill: p.clipped ? "none" : "currentColor", stroke: "currentColor" })),
  );
}

// Wiring ------------------------------------------------------------------------------------------

$("start").addEventListener("click", open);
$("stop").addEventListener("click", () => close());
$("take").addEventListener("click", take);
$("video").addEventListener("resize", () => {
  state.seen = null;
  draw();
});
document.addEventListener("visibilitychange", () => {
  if (state.stream) $("sees").textContent = document.hidden ? "waiting" : "looking";
});
window.addEventListener("pagehide", () => close());
$("resend").addEventListener("click", () => working(send));
$("files").addEventListener("change", () => {
  const patches = asked(), form = new FormData();
  for (const file of $("files").files) form.append("files", file, file.name);
  $("files").value = "";
  if (!patches) return tell(NO_NUMBER);
  working(async () => {
    progress(0, "sending");
    const { pictures, refused: others } = await surely(() => postForm("/api/light-table/pictures", form));
    $("not-kept").hidden = !others.length;
    $("not-kept").replaceChildren(...others.map((one) => Object.assign(document.createElement("p"), { textContent: one.detail })));
    if (pictures.length) await result(pictures.map((p) => p.id), patches);
  });
});
