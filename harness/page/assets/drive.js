// What the bench may have a camera do while it takes pictures: focus at given distances, switch its light on.
// By the constraints of MediaStream Image Capture (W3C). See harness/page/README.md.
"use strict";

const drive = (() => {
  const farthest_m = 100;
  const lens_rest = { frames: 6, least_ms: 350, most_ms: 2000 };  // what was set shows in the pictures
  const dark_rest = { frames: 12, least_ms: 1000, most_ms: 3000 };  // the exposure has found its end
  const between_lit_ms = 60;
  const light_most_ms = 12000;

  const none = { before: async () => "", release: async () => {} };
  const offered = (track) => (track.getCapabilities ? track.getCapabilities() : {});

  async function set(track, wanted) {
    try {
      await within(track.applyConstraints({ advanced: [wanted] }), 3000);
    } catch {
      throw failure("NotOffered");
    }
  }

  // Distances from the farthest to the nearest, evenly spaced in dioptres, in metres.
  function distances(range, steps) {
    const far = Math.min(range.max, farthest_m), near = range.min;
    if (!(near > 0 && far > near)) throw failure("NotOffered");
    return Array.from({ length: steps }, (_, k) => {
      const metres = 1 / (1 / far + (1 / near - 1 / far) * k / (steps - 1));
      return Math.min(far, Math.max(near, metres));
    });
  }

  function focus(command, track, video) {
    const can = offered(track);
    if (!(can.focusMode || []).includes("manual") || !can.focusDistance) throw failure("NotOffered");
    const at = distances(can.focusDistance, command.focus);
    const each = command.count / command.focus;
    return {
      async before(i) {
        const metres = at[Math.floor(i / each)];
        if (i % each === 0) {
          await set(track, { focusMode: "manual", focusDistance: metres });
          await settle(video, lens_rest);
          const mode = track.getSettings().focusMode;
          if (mode && mode !== "manual") throw failure("NotOffered");
        }
        return `&d=${metres.toPrecision(9)}`;
      },
      release: () => set(track, { focusMode: "continuous" }),
    };
  }

  // Pictures in the dark, lit ones, and some in the dark again. The exposure is held, where the browser lets a
  // page hold it, so that it does not make up for the light; else the first lit pictures come before it has.
  function light(command, track, video) {
    const can = offered(track);
    if (!can.torch) throw failure("NotOffered");
    const holds = (can.exposureMode || []).includes("manual");
    const torch = (on) => set(track, holds ? { exposureMode: "manual", torch: on } : { torch: on });
    const first = (command.count - command.lit) / 2, last = first + command.lit;
    let bound;
    return {
      async before(i) {
        if (i === 0) {
          await settle(video, dark_rest);
          await torch(false);
        } else if (i === first) {
          bound = setTimeout(() => track.stop(), light_most_ms);  // also when the bench has fallen silent
          say("The light is on for a moment. Do not look into it.");
          await torch(true);
        } else if (i === last) {
          await torch(false);
          await settle(video, lens_rest);
          clearTimeout(bound);
        }
        if (i >= first && i < last) await wait_ms(between_lit_ms);
        return "";
      },
      async release() {
        await set(track, holds ? { exposureMode: "continuous", torch: false } : { torch: false });
        clearTimeout(bound);
      },
    };
  }

  return {
    // What to do before each picture, giving the picture's own words to the bench, and when all is over.
    of(command, track, video) {
      if (command.focus) return focus(command, track, video);
      if (command.lit) return light(command, track, video);
      return none;
    },
  };
})();
