// Records so many samples once it is told to, hands them over and forgets them.
"use strict";

class Recorder extends AudioWorkletProcessor {
  constructor(options) {
    super();
    this.samples = new Float32Array(options.processorOptions.frames);
    this.at = -1;
    this.port.onmessage = () => { this.at = 0; };
  }
  process(inputs) {
    if (this.at < 0) return true;
    const from = inputs[0][0];  // absent while nothing comes: silence
    const n = Math.min(128, this.samples.length - this.at);
    if (from) this.samples.set(from.subarray(0, n), this.at);
    this.at += n;
    if (this.at < this.samples.length) return true;
    this.port.postMessage(this.samples, [this.samples.buffer]);
    return false;
  }
}
registerProcessor("recorder", Recorder);
