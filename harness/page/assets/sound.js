// Sound: plays a sweep through one output, records one microphone meanwhile, and keeps nothing. The sweep is
// that of the bench's own formula (checks/kernel/sound.hpp).
"use strict";

const wanted_rate = 48000;
const listening_ms = 400;  // a microphone's first moments are silence or a click
const plain = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };

const ear = {};
function renew_ear() {
  ear.decided = false;
  ear.answer = new Promise((resolve) => {
    ear.decide = (why) => { ear.decided = true; ear.why = why; resolve(why); };
  });
}
renew_ear();

async function start_sound() {
  $("start").disabled = true;
  step("allow");
  say("Now tap Allow.");
  if (ear.decided) renew_ear();
  try {
    if (!window.isSecureContext || !navigator.mediaDevices || !window.AudioWorkletNode)
      throw failure("Unsupported");
    try {
      stop(await navigator.mediaDevices.getUserMedia({ audio: plain, video: false }));
    } catch (error) {
      if (error.name !== "NotFoundError") throw error;  // no microphone at all: the count says so
    }
    if (finished) return;
    step("take");
    $("start").hidden = true;
    say("Ready. Lay the phone down and keep quiet.");
    await answer({ granted: true, of: "microphone" }).catch(() => {});
    ear.decide("");
  } catch (error) {
    step("start");
    say(error.name === "NotAllowedError"
      ? "The microphone was not allowed. Tap Start to be asked again, or let the bench go on without."
      : "The microphone could not be opened. Tap Start to try again.", "warn");
    $("start").disabled = error.name === "Unsupported";
    ear.decide(error.name);
  }
}
starts.microphone = start_sound;
allowed.microphone = () => ear.decided && ear.why === "";

async function with_ear(duty, command) {
  if (!ear.decided && asks !== "microphone") offer("microphone");
  const refusal = await ear.answer;
  if (refusal) throw failure(refusal);
  return duty(command);
}

// In the browser's order, without its names for "whatever is the default".
async function places(kind) {
  const all = (await navigator.mediaDevices.enumerateDevices()).filter((d) => d.kind === kind);
  const real = all.filter((d) => !["default", "communications"].includes(d.deviceId));
  return real.length ? real : all;
}

const can_choose = () => "setSinkId" in AudioContext.prototype;

async function outputs() {
  const all = can_choose() ? await places("audiooutput") : [];
  return all.length ? all : [null];  // null: wherever the phone plays
}

const sound_places = async () =>
  ({ microphones: (await places("audioinput")).length, outputs: (await outputs()).length });

function sweep_into(x, command, rate) {
  const ratio = Math.log(command.f2 / command.f1);
  const l = Math.max(1, Math.round(command.f1 * command.seconds / ratio)) / command.f1;
  const end = l * ratio;
  const rise = (u) => 0.5 - 0.5 * Math.cos(Math.PI * Math.min(Math.max(u, 0), 1));
  for (let k = 0; k < x.length; ++k) {
    const t = k / rate;
    if (t > end) break;
    x[k] = command.level * rise(t / 0.010) * rise((end - t) / 0.005) *
      Math.sin(2 * Math.PI * command.f1 * l * Math.exp(t / l));
  }
}

async function record(context, stream, command) {
  const frames = Math.round((command.lead + command.seconds + command.tail) * context.sampleRate);
  await context.audioWorklet.addModule("recorder.js");
  const recorder = new AudioWorkletNode(context, "recorder",
    { numberOfOutputs: 1, channelCount: 1, channelCountMode: "explicit", processorOptions: { frames } });
  const recorded = new Promise((resolve) => { recorder.port.onmessage = (m) => resolve(m.data); });
  context.createMediaStreamSource(stream).connect(recorder).connect(context.destination);
  const source = context.createBufferSource();
  source.buffer = context.createBuffer(1, Math.ceil((command.seconds + 0.1) * context.sampleRate),
    context.sampleRate);
  sweep_into(source.buffer.getChannelData(0), command, context.sampleRate);
  source.connect(context.destination);
  await wait_ms(listening_ms);
  recorder.port.postMessage("go");
  source.start(context.currentTime + command.lead);
  return within(recorded, 3000 + 2000 * (command.lead + command.seconds + command.tail));
}

async function send_recording(command, samples, rate) {
  const bytes = new DataView(new ArrayBuffer(2 * samples.length));
  for (let k = 0; k < samples.length; ++k)
    bytes.setInt16(2 * k, Math.round(Math.min(Math.max(samples[k] * 32768, -32768), 32767)), true);
  try {
    const reply = await post(`recording?tab=${tab}&seq=${command.seq}&rate=${rate}`, bytes.buffer,
      "application/octet-stream");
    if (!reply.ok) throw failure("Gone");
  } finally {
    samples.fill(0);
    new Uint8Array(bytes.buffer).fill(0);
  }
}

async function sweep(command) {
  const microphone = (await places("audioinput"))[command.microphone];
  const all = await outputs();
  if (!microphone || command.output >= all.length) throw failure("NotFoundError");
  let stream, context;
  try {
    say("Listening …");
    stream = await within(navigator.mediaDevices.getUserMedia({
      video: false, audio: { ...plain, deviceId: { exact: microphone.deviceId } },
    }), camera_start_ms);
    context = new AudioContext({ sampleRate: wanted_rate, latencyHint: "playback" });
    if (all[command.output]) await within(context.setSinkId(all[command.output].deviceId), 5000);
    await within(context.resume(), 5000);
    const samples = await record(context, stream, command);
    await send_recording(command, samples, context.sampleRate);
    say("Sound measured and thrown away. Waiting for the bench …");
    return {};
  } catch (error) {
    say("That did not work. The bench knows.", "warn");
    throw error;
  } finally {
    stop(stream);
    if (context) await context.close().catch(() => {});
  }
}

duties.sound_places = () => with_ear(sound_places);
duties.sweep = (command) => with_ear(sweep, command);
