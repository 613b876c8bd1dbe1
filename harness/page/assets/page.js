// The phone's half of the checks by page. Asks the bench for work, does one command at a time, and keeps
// nothing: every picture buffer is overwritten after it was sent. See harness/page/README.md.
"use strict";

const settling = { frames: 12, least_ms: 700, most_ms: 6000 };
const camera_start_ms = 12000;

const $ = (id) => document.getElementById(id);
const wait_ms = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
const failure = (name) => Object.assign(new Error(name), { name });
const within = (promise, ms) =>
  Promise.race([promise, wait_ms(ms).then(() => { throw failure("TimeoutError"); })]);

let tab = 0;
let finished = false;

// The person's answer, once there is one: "" or the name of what went wrong.
const gate = {};
function renew() {
  gate.decided = false;
  gate.answer = new Promise((resolve) => {
    gate.decide = (why) => { gate.decided = true; gate.why = why; resolve(why); };
  });
}
renew();

// ---------------------------------------------------------------- what the person sees

function say(text, mood = "") {
  $("status").textContent = text;
  $("status").dataset.mood = mood;
}

function step(now) {
  let state = "done";
  for (const name of ["start", "allow", "take"]) {
    if (name === now) state = "now";
    $("step-" + name).dataset.state = state;
    if (name === now) state = "next";
  }
}

const reasons = {
  NotAllowedError: "The camera was not allowed. Tap Start to be asked again, or let the bench go on without.",
  NotReadableError: "The camera did not start. Close other apps that use it, then tap Start again.",
  TimeoutError: "The camera took too long to answer. Tap Start to try again.",
  Unsupported: "This browser cannot use the cameras here. The bench will note them as not tested.",
};

function finish() {
  finished = true;
  fields.leave();
  $("start").hidden = true;
  $("intro").hidden = true;
  $("steps").hidden = true;
  $("view").hidden = true;
  document.title = "Finished";
  say("Finished. You can close this tab. To take back what you allowed: browser settings, site settings, " +
    location.hostname + ".");
}

// ---------------------------------------------------------------- talking to the bench

async function post(path, body, type = "application/json") {
  const reply = await fetch(path, { method: "POST", body, headers: { "Content-Type": type }, cache: "no-store" });
  if (reply.status === 410) finish();
  return reply;
}

const answer = (fields) => post("answer", JSON.stringify({ tab, ...fields }));

async function hello() {
  const reply = await post("hello", "{}");
  if (!reply.ok) throw failure("Gone");
  tab = (await reply.json()).tab;
}

async function listen() {
  let seen = 0, misses = 0;
  let work = Promise.resolve();
  while (!finished) {
    try {
      const reply = await fetch(`next?tab=${tab}&seen=${seen}`, { cache: "no-store" });
      misses = 0;
      if (reply.status === 410) return finish();
      if (reply.status !== 200) continue;
      const command = await reply.json();
      if (command.do === "stop") return finish();
      seen = command.seq;
      fields.leave();  // of an earlier command: the bench no longer waits for it
      work = work.then(() => obey(command)).catch(() => {});
    } catch {
      if (++misses > 20) return say("The cable to the bench is loose, or the bench has finished.", "warn");
      await wait_ms(500);
    }
  }
}

// What the bench may ask for, by name; sound.js adds its own.
const duties = {
  ask: (command) => { offer(command.of); return {}; },
  count: (command) => with_camera(count, command),
  frames: (command) => with_camera(take, command),
  fields: (command) => fields.show(command),
};

async function with_camera(duty, command) {
  if (!gate.decided && asks !== "camera") offer("camera");
  const refusal = await gate.answer;
  if (refusal) throw failure(refusal);
  return duty(command);
}

async function obey(command) {
  try {
    const duty = Object.hasOwn(duties, command.do) ? duties[command.do] : null;
    if (!duty) throw failure("Unsupported");
    const said = await duty(command);
    await answer({ seq: command.seq, ok: true, ...said });
  } catch (error) {
    await answer({ seq: command.seq, ok: false, why: String(error.name) });
  }
}

// ---------------------------------------------------------------- cameras

const stop = (stream) => stream && stream.getTracks().forEach((track) => track.stop());

async function ask_permission() {
  if (!window.isSecureContext || !navigator.mediaDevices) throw failure("Unsupported");
  let last;
  for (const video of [{ facingMode: "environment" }, { facingMode: "user" }, true]) {
    try {
      return stop(await navigator.mediaDevices.getUserMedia({ video, audio: false }));
    } catch (error) {
      if (error.name === "NotFoundError") return;  // no camera at all: the count says so
      if (error.name === "NotAllowedError" || error.name === "SecurityError") throw failure("NotAllowedError");
      last = error;
    }
  }
  throw last;
}

// "back", "front"; a camera that does not say where it faces counts as back. Labels stay on the phone.
function facing_of(device) {
  if (/facing:?\s*(front|user)|front camera|selfie/i.test(device.label)) return "front";
  if (/facing:?\s*(back|environment)|(back|rear) camera/i.test(device.label)) return "back";
  const modes = device.getCapabilities ? device.getCapabilities().facingMode || [] : [];
  return modes.includes("user") ? "front" : "back";
}

async function cameras(facing) {
  const number = (device) => Number((/\d+/.exec(device.label.replace(/camera2/i, "")) || [0])[0]);
  const all = await navigator.mediaDevices.enumerateDevices();
  return all.filter((d) => d.kind === "videoinput" && facing_of(d) === facing)
    .sort((a, b) => number(a) - number(b));
}

const count = async (command) => ({ count: (await cameras(command.facing)).length });

function next_frame(video) {
  if (!video.requestVideoFrameCallback) return wait_ms(50).then(() => performance.now());
  return within(new Promise((resolve) => video.requestVideoFrameCallback(resolve)), 4000);
}

async function settle(video, rest = settling) {
  const start = performance.now();
  for (let n = 0; ; ++n) {
    await next_frame(video);
    const past = performance.now() - start;
    if (past > rest.most_ms || (n >= rest.frames && past > rest.least_ms)) return;
  }
}

// Pictures of a light are only looked at for their brightness: they go over scaled down.
function size_of(command, video) {
  const fits = Math.min(1, command.width / video.videoWidth, command.height / video.videoHeight);
  const scale = command.lit ? fits : 1;
  return [video.videoWidth, video.videoHeight].map((side) => Math.max(16, Math.floor(side * scale)));
}

function pixels(paper, video, rgb) {
  paper.drawImage(video, 0, 0, paper.canvas.width, paper.canvas.height);
  const rgba = paper.getImageData(0, 0, paper.canvas.width, paper.canvas.height, { colorSpace: "srgb" }).data;
  for (let from = 0, to = 0; from < rgba.length; from += 4, to += 3) {
    rgb[to] = rgba[from];
    rgb[to + 1] = rgba[from + 1];
    rgb[to + 2] = rgba[from + 2];
  }
  rgba.fill(0);
}

async function send_frames(command, video, driver) {
  const [width, height] = size_of(command, video);
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  const paper = canvas.getContext("2d", { willReadFrequently: true, alpha: false });
  const rgb = new Uint8Array(3 * width * height);
  try {
    for (let i = 0; i < command.count; ++i) {
      const more = await driver.before(i);
      const t = await next_frame(video);
      pixels(paper, video, rgb);
      const reply = await post(
        `frame?tab=${tab}&seq=${command.seq}&i=${i}&w=${width}&h=${height}&t=${t.toFixed(3)}${more}`, rgb,
        "application/octet-stream");
      if (!reply.ok) throw failure(reply.status === 413 ? "TooLarge" : "Gone");
    }
  } finally {
    rgb.fill(0);
    canvas.width = canvas.height = 0;
  }
}

async function take(command) {
  const device = (await cameras(command.facing))[command.index];
  if (!device) throw failure("NotFoundError");
  const video = $("video");
  let stream, driver;
  say(`Looking through the ${command.facing} camera${command.index ? " " + (command.index + 1) : ""} …`);
  try {
    stream = await within(navigator.mediaDevices.getUserMedia({
      audio: false,
      video: {
        deviceId: { exact: device.deviceId }, resizeMode: { ideal: "none" },
        width: { ideal: command.lit ? 640 : command.width },
        height: { ideal: command.lit ? 480 : command.height },
      },
    }), camera_start_ms);
    video.srcObject = stream;
    $("view").hidden = false;
    $("intro").hidden = true;
    await within(video.play(), camera_start_ms);
    await settle(video);
    driver = drive.of(command, stream.getVideoTracks()[0], video);
    await send_frames(command, video, driver);
    say("Pictures measured and thrown away. Waiting for the bench …");
    return {};
  } catch (error) {
    say(reasons[error.name] ? "The camera did not give a picture." : "That did not work. The bench knows.", "warn");
    throw error;
  } finally {
    if (driver) await driver.release().catch(() => {});
    stop(stream);
    video.srcObject = null;
    $("view").hidden = true;
  }
}

// ---------------------------------------------------------------- start

async function start() {
  $("start").disabled = true;
  step("allow");
  say("Now tap Allow.");
  if (gate.decided) renew();
  try {
    await ask_permission();
    if (finished) return;
    step("take");
    $("start").hidden = true;
    say("Ready. Point the camera at the chart.");
    if (navigator.wakeLock) navigator.wakeLock.request("screen").catch(() => {});
    await answer({ granted: true }).catch(() => {});
    gate.decide("");
  } catch (error) {
    step("start");
    say(reasons[error.name] || "The camera could not be opened. Tap Start to try again.", "warn");
    $("start").disabled = error.name === "Unsupported";
    gate.decide(error.name);
  }
}

// What "Start" is for at the moment, and what it does then.
let asks = "camera";
const starts = { camera: start };
const allowed = { camera: () => gate.decided && gate.why === "" };

function offer(what) {
  if (finished || !Object.hasOwn(starts, what)) return;
  asks = what;
  if (allowed[what]()) return;
  step("start");
  $("what").textContent = what;
  $("start").hidden = $("start").disabled = false;
  say("Ready when you are.");
}

$("start").addEventListener("click", () => starts[asks]());
hello().then(() => {
  say("Ready when you are.");
  $("start").disabled = false;
  return listen();
}).catch(() => say("The bench does not answer. Look at the cable, then reload this page.", "warn"));
