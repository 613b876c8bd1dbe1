// The screen check's half of the page: fields of one colour on the whole screen, and the marks that a person
// puts on them. Sends numbers only. See harness/page/README.md.
"use strict";

const fields = (() => {
  const near_px = 24;   // a tap so near to a mark takes it away; 3.8 mm at 160 CSS px an inch
  const drawn_px = 12;  // a finger that moved so far has drawn a box
  const hints = {
    white: "Dark dots, lines or spots?", black: "Anything that glows?", red: "Dots or lines in another colour?",
    green: "Dots or lines in another colour?", blue: "Dots or lines in another colour?",
    ramp: "Even from black to white?", grey: "Cloudy, tinted or darker spots?",
    crease: "Tilt the phone: do the lines cross the fold straight?",
  };
  const reasons = {
    NotFullScreen: "This browser cannot fill the screen. The bench will note it as not tested.",
    Turned: "Hold the phone upright and switch rotation off, then begin again.",
  };

  let under_way = null;  // { fail(error), shown: place of the field under way }

  const kind_buttons = () => [...document.querySelectorAll("#fields-bar [data-kind]")];
  const chosen = () => Number(document.querySelector("#fields-bar [aria-pressed=true]").dataset.kind);
  function choose(kind) {
    for (const b of kind_buttons()) b.setAttribute("aria-pressed", String(Number(b.dataset.kind) === kind));
  }

  // Whatever comes first: the click, or the end of the whole command.
  const click = (id) => new Promise((resolve) => $(id).addEventListener("click", () => resolve(id), { once: true }));
  const or_left = (promise) => Promise.race([promise, under_way.left]);

  function stage(name) {
    $("fields").dataset.stage = name;
    $("fields-intro").hidden = name !== "intro";
    $("field").hidden = $("fields-bar").hidden = name !== "field";
  }

  const fills_screen = () => document.fullscreenElement === $("fields") &&
    Math.abs(innerWidth - screen.width) <= 2 && Math.abs(innerHeight - screen.height) <= 2;

  // Full screen needs a tap; the person may come back to it when they left it.
  async function fill_screen() {
    while (!fills_screen()) {
      stage("intro");
      const tapped = await or_left(Promise.race([click("fields-begin"), click("fields-refuse")]));
      if (tapped === "fields-refuse") throw failure("Left");
      if (!$("fields").requestFullscreen) throw failure("NotFullScreen");
      try {
        await $("fields").requestFullscreen({ navigationUI: "hide" });
      } catch {
        throw failure("NotFullScreen");
      }
      if (screen.orientation && screen.orientation.lock) await screen.orientation.lock("natural").catch(() => {});
      for (let n = 0; n < 20 && !fills_screen(); ++n) await wait_ms(50);
      if (document.fullscreenElement && !fills_screen()) throw failure("NotFullScreen");
    }
    if (screen.orientation && screen.orientation.angle !== 0) throw failure("Turned");
  }

  // ------------------------------------------------------------- marks

  const round = (v) => Math.round(1e4 * Math.min(1, Math.max(0, v))) / 1e4;

  function draw(marks) {
    const shown = marks.map((m) => {
      const e = document.createElement("div");
      e.className = "mark";
      e.dataset.kind = m.kind;
      if (m.kind !== 2) e.style.left = 100 * m.x + "%";
      if (m.kind !== 1) e.style.top = 100 * m.y + "%";
      if (m.kind === 3 && m.w > 0) e.style.width = 100 * m.w + "%";
      if (m.kind === 3 && m.h > 0) e.style.height = 100 * m.h + "%";
      return e;
    });
    $("field").replaceChildren(...shown);
  }

  function hit(marks, x, y) {
    const near = (m) => {
      const dx = (m.x - x) * innerWidth, dy = (m.y - y) * innerHeight;
      return (m.kind === 1 ? Math.abs(dx) : m.kind === 2 ? Math.abs(dy) : Math.hypot(dx, dy)) <= near_px;
    };
    return marks.findIndex(near);
  }

  // One finger from down to up.
  function put(marks, most, from, to) {
    const x0 = from.clientX / innerWidth, y0 = from.clientY / innerHeight;
    const x1 = to.clientX / innerWidth, y1 = to.clientY / innerHeight;
    const kind = chosen();
    const drawn = kind === 3 && Math.hypot(to.clientX - from.clientX, to.clientY - from.clientY) > drawn_px;
    const at = drawn ? -1 : hit(marks, x0, y0);
    if (at >= 0) marks.splice(at, 1);
    else if (marks.length < most)
      marks.push({ kind, x: round(drawn ? (x0 + x1) / 2 : x0), y: round(drawn ? (y0 + y1) / 2 : y0),
                   w: drawn ? round(Math.abs(x1 - x0)) : 0, h: drawn ? round(Math.abs(y1 - y0)) : 0 });
    draw(marks);
    tell(marks, most);
  }

  function tell(marks, most) {
    const n = marks.length;
    $("fields-hint").textContent = n === 0 ? hints[$("field").dataset.field] || ""
      : n < most ? `${n} marked. Anything else?` : `${n} marked: that is enough.`;
  }

  async function one_field(name, place, of, most) {
    const marks = [], field = $("field");
    let from = null;
    const down = (e) => {
      if (!e.isPrimary) return;
      from = e;
      field.setPointerCapture(e.pointerId);
    };
    const up = (e) => {
      if (from && e.isPrimary) put(marks, most, from, e);
      from = null;
    };
    const lost = () => { from = null; };
    field.dataset.field = name;
    choose(0);
    draw(marks);
    tell(marks, most);
    $("fields-next").textContent = place + 1 < of ? `Next (${place + 1} of ${of})` : `Finish (${of} of ${of})`;
    field.addEventListener("pointerdown", down);
    field.addEventListener("pointerup", up);
    field.addEventListener("pointercancel", lost);
    try {
      const next = click("fields-next");
      for (let over = false; !over;) {
        await fill_screen();
        stage("field");
        over = await or_left(Promise.race([next.then(() => true), out_of_full_screen()]));
      }
    } finally {
      field.removeEventListener("pointerdown", down);
      field.removeEventListener("pointerup", up);
      field.removeEventListener("pointercancel", lost);
    }
    return marks.map((m) => [m.kind, m.x, m.y, m.w, m.h]);
  }

  const out_of_full_screen = () => new Promise((resolve) => {
    const look = () => {
      if (document.fullscreenElement) return;
      document.removeEventListener("fullscreenchange", look);
      resolve(false);
    };
    document.addEventListener("fullscreenchange", look);
    look();
  });

  // ------------------------------------------------------------- the command

  async function show(command) {
    const mine = {};
    mine.left = new Promise((_, reject) => { mine.fail = reject; });
    mine.left.catch(() => {});
    under_way = mine;
    let awake = null;
    $("fields-why").textContent = "";
    $("fields").hidden = false;
    try {
      for (let i = 0; i < command.fields.length; ++i) {
        const marks = await one_field(command.fields[i], i, command.fields.length, command.most);
        if (!awake && navigator.wakeLock) awake = await navigator.wakeLock.request("screen").catch(() => null);
        const reply = await post(`marks?tab=${tab}&seq=${command.seq}&i=${i}`, JSON.stringify({ marks }));
        if (!reply.ok) throw failure("AbortError");
      }
      const px = (v) => Math.round(v * devicePixelRatio);
      return { width: px(innerWidth), height: px(innerHeight) };
    } catch (error) {
      say(reasons[error.name] || "The screen check ended early. The bench knows.", "warn");
      throw error;
    } finally {
      if (under_way === mine) under_way = null;
      if (awake) awake.release().catch(() => {});
      if (document.fullscreenElement) await document.exitFullscreen().catch(() => {});
      $("field").replaceChildren();
      $("fields").hidden = true;
      stage("intro");
    }
  }

  const leave = () => { if (under_way) under_way.fail(failure("AbortError")); };

  addEventListener("DOMContentLoaded", () => {
    for (const b of kind_buttons()) b.addEventListener("click", () => choose(Number(b.dataset.kind)));
    $("fields-move").addEventListener("click", () => {
      const bar = $("fields-bar");
      bar.dataset.at = bar.dataset.at === "top" ? "" : "top";
    });
  });
  return { show, leave };
})();
