"use strict";
(() => {
  const WIDTH = 700, DOT = 46;
  const SEAL = "handback-" + "seal:[", RECORD = "handback-" + "record:[";  // each may stand in the file once
  const by_id = (id) => document.getElementById(id);
  let words = {};  // the page's own language: one JSON object in the element "words"
  const phrase = (name, ...values) => (words[name] || name).replace(/\{(\d)\}/g, (_, i) => values[i]);
  const authentic = (says, record) => ({word: "authentic", says, record});
  const altered = (says, record) => ({word: "altered", says, record});
  const unchecked = (says, record) => ({word: "unchecked", says, record});

  // ---- the file's bytes, written again from the parsed page by the rules of the program that wrote it
  const RAW = new Set(["script", "style"]), EMPTY = new Set(["meta", "input"]);
  const DRAWN = new Set(["rect", "circle", "polygon", "polyline", "path"]);
  const CODES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;", "[": "&#91;"};
  const escaped = (text) => text.replace(/[&<>"'[]/g, (c) => CODES[c]);
  function written(node) {
    if (node.nodeType === Node.TEXT_NODE) return RAW.has(node.parentNode.localName) ? node.data : escaped(node.data);
    if (node.nodeType !== Node.ELEMENT_NODE || node.shadowRoot) return "<!>";  // no sheet holds such a thing
    const name = node.localName;
    let text = "<" + name;
    for (const a of node.attributes) text += ` ${a.name}="${escaped(a.value)}"`;
    if (DRAWN.has(name)) return text + "/>";
    return EMPTY.has(name) ? text + ">" : `${text}>${inside(node)}</${name}>`;
  }
  const inside = (node) => Array.from(node.childNodes, written).join("");
  // A parser drops the line break before <head> and moves those behind </body> and </html> into the body
  // (HTML Living Standard, 13.2.6.4).
  function page_text() {
    const moved = "\n\n</body></html>";
    const html = written(document.documentElement);
    if (document.childNodes.length !== 2 || !html.endsWith(moved)) return html;
    return "<!DOCTYPE html>\n" + html.replace("><head>", ">\n<head>").slice(0, -moved.length) + "</body>\n</html>\n";
  }

  // ---- signatures
  const utf8 = (bytes) => new TextDecoder("utf-8", {fatal: true, ignoreBOM: true}).decode(bytes);
  const octets = (text) => new TextEncoder().encode(text);
  // base64url, RFC 4648 section 5
  const packed = (bytes) =>
      btoa(Array.from(bytes, (b) => String.fromCharCode(b)).join("")).replace(/\+/g, "-").replace(/\//g, "_").replace(/=/g, "");
  function unpacked(text) {
    const bytes = Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
    if (packed(bytes) !== text) throw new Error("not the one form of these bytes");
    return bytes;
  }
  const sha256 = async (bytes) => new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const hex = (bytes) => Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");

  // The key that came with the page; its id is RFC 7638's.
  async function key_in(text) {
    const jwk = JSON.parse(text);
    const plain = `{"crv":"Ed25519","kty":"OKP","x":"${jwk.x}"}`;
    if (text !== plain) throw new Error("no public key");
    const id = packed(await sha256(octets(plain)));
    try {
      return {id, key: await crypto.subtle.importKey("jwk", {kty: "OKP", crv: "Ed25519", x: jwk.x}, {name: "Ed25519"}, false, ["verify"])};
    } catch (e) {
      if (e.name !== "NotSupportedError") throw e;
      return {id, key: null};  // hashes can be compared, signatures cannot be checked
    }
  }
  // The content of a JWS that holds (or cannot be checked, without a key object); null when it does not hold;
  // undefined when another key made it.
  async function opened(jws, {id, key}) {
    try {
      const [head, content, signature, more] = jws.split(".");
      if (more !== undefined) return null;
      const header = utf8(unpacked(head));
      if (header !== `{"alg":"EdDSA","kid":"${id}"}`)
        return /^\{"alg":"EdDSA","kid":"[\w-]{43}"\}$/.test(header) ? undefined : null;
      const holds = key === null || await crypto.subtle.verify({name: "Ed25519"}, key, unpacked(signature), octets(head + "." + content));
      return holds ? utf8(unpacked(content)) : null;
    } catch {
      return null;
    }
  }

  // Typed texts lie beside the signature, each behind a "~"; its hash stands in the signed object that it belongs to
  // (RFC 9901). Gives the whole record; null when one of them does not belong, or is there twice.
  async function disclosed(signed, texts) {
    const record = JSON.parse(signed), owners = new Map();
    if ((record._sd_alg === undefined) !== (texts === undefined)) return null;
    if (texts === undefined) return record;
    for (const object of [record.job, ...record.checks]) {
      for (const hash of object._sd || []) owners.set(hash, object);
      delete object._sd;
    }
    const each = texts.split("~");
    if (each.pop() !== "") return null;
    try {
      for (const text of each) {
        const hash = packed(await sha256(octets(text))), owner = owners.get(hash);
        const [, name, value] = JSON.parse(utf8(unpacked(text)));
        if (!owners.delete(hash) || Object.hasOwn(owner, name)) return null;
        owner[name] = value;
      }
    } catch {
      return null;
    }
    return record;
  }

  function after_only(text, marker) {
    const at = text.indexOf(marker);
    return at < 0 || text.indexOf(marker, at + 1) >= 0 ? -1 : at + marker.length;
  }
  // Any bytes; `changed` names what to say when both signatures hold and the hash does not.
  async function judge(bytes, key, changed) {
    const file = new TextDecoder("latin1").decode(bytes);  // one character a byte
    const at = after_only(file, SEAL), from = after_only(file, RECORD), to = file.indexOf("]", from);
    if (at < 0 || file[at + WIDTH] !== "]") return altered(phrase("no_seal"));
    if (from < 0 || to < 0) return altered(phrase("no_record"));
    const record_text = file.slice(from, to), cut = record_text.indexOf("~");
    const record_jws = cut < 0 ? record_text : record_text.slice(0, cut);
    const recorded = await opened(record_jws, key);
    const sealed = await opened(file.slice(at, at + WIDTH).replace(/\.+$/, ""), key);
    if (recorded === null) return altered(phrase("record_changed"));
    if (sealed === null) return altered(phrase("seal_changed"));
    if (recorded === undefined || sealed === undefined) return unchecked(phrase("other_key"));
    const content = await disclosed(recorded, cut < 0 ? undefined : record_text.slice(cut + 1));
    if (content === null) return altered(phrase("record_changed"));
    const record = {jws: record_jws, content};
    const blank = bytes.slice().fill(DOT, at, at + WIDTH);
    const record_hash = hex(await sha256(octets(record_text)));
    const seal = (hash) => `{"kind":"html","record_sha256":"${record_hash}","schema":"handback-seal-1","sha256":"${hash}"}`;
    if (!sealed.includes(`"record_sha256":"${record_hash}"`)) return altered(phrase("other_record"), record);
    if (sealed !== seal(hex(await sha256(blank)))) return altered(phrase(changed), record);
    return key.key === null ? unchecked(phrase("no_signatures"), record) : authentic("", record);
  }

  // ---- which facts on the page are not the record's
  const date = (v) => phrase("date", Number(v.slice(8, 10)), words.months[Number(v.slice(5, 7))], v.slice(0, 4));
  const outcome = (v) => Object.hasOwn(words.outcomes, v) ? words.outcomes[v] : "";
  const FORMS = {text: (v) => Object.hasOwn(words.texts, v) ? words.texts[v] : v, outcome, date};
  const plain = (t) => t.replace(/[\u2066-\u2069]/g, "").replace(/\s+/g, " ").trim();
  function differences(record) {
    const found = [];
    for (const e of document.querySelectorAll("[data-pointer]")) {
      const path = e.getAttribute("data-pointer").split("/").slice(1);
      const value = path.reduce((v, name) => (v === null || v === undefined ? v : v[name]), record);
      if (typeof value !== "string" || value === "") continue;
      const form = FORMS[e.getAttribute("data-as") || "text"] || FORMS.text;
      const shown = plain(e.textContent), signed = plain(form(value));
      if (shown !== signed) found.push(phrase("difference", shown, signed));
    }
    return found;
  }

  // ---- what the person sees
  const MARKS = {authentic: "\u2713", altered: "\u2717", unchecked: "?"};
  function say(id, result) {
    const p = by_id(id);
    p.className = "says-" + result.word;
    const label = Object.assign(document.createElement("b"), {textContent: `${MARKS[result.word]} ${phrase(result.word)}:`});
    p.replaceChildren(label, " " + result.says);
  }
  async function check_page(page) {
    const key = await key_in(by_id("key").textContent);
    by_id("self-key").textContent = key.id;
    const result = await judge(octets(page), key, "page_changed");
    if (result.word === "authentic") result.says = phrase("page_good");
    if (result.word === "altered" && result.record)
      result.says += " " + differences(result.record.content).slice(0, 5).concat(phrase("extension")).join(" ");
    say("self-says", result);
    return {key, mine: result.record};
  }
  async function check_file(file, {key, mine}) {
    const bytes = new Uint8Array(await file.arrayBuffer());
    if (new TextDecoder("latin1").decode(bytes.slice(0, 4)) === "%PDF") return unchecked(phrase("pdf"));
    const result = await judge(bytes, key, "file_changed");
    const other = result.record && mine && result.record.jws !== mine.jws;
    if (result.word === "authentic") {
      result.says = phrase("file_good", file.name);
      if (other) result.says += " " + phrase("other_sheet", result.record.content.job.id);
    }
    return result;
  }
  // The signed summary behind the QR code (reports/sign/summary.hpp) against the page's own record.
  async function check_code(jws, {key, mine}) {
    const content = await opened(jws, key);
    if (content === undefined) return unchecked(phrase("other_key"));
    if (content === null) return altered(phrase("code_broken"));
    const s = JSON.parse(content);
    const plain_form = JSON.stringify({d: s.d, h: s.h, j: s.j, o: s.o, r: s.r, t: s.t, v: 1});
    if (content !== plain_form) return altered(phrase("code_broken"));
    const told = [s.j, outcome(s.o), date(s.d)];
    if (!mine) return unchecked(phrase("code_alone", ...told));
    const record = mine.content;
    const hash = packed((await sha256(octets(mine.jws))).slice(0, 16));
    const belongs = s.h === hash && s.j === record.job.id && s.r === record.run.id && s.o === record.outcome &&
        s.d === record.run.finished && s.t === record.phone.tail;
    if (!belongs) return altered(phrase("code_other", ...told));
    return key.key === null ? unchecked(phrase("no_signatures")) : authentic(phrase("code_good", ...told));
  }

  function on_text(field, says, check) {
    let latest = 0;
    field.addEventListener("input", async () => {
      const mine = ++latest, value = field.value.replace(/\s/g, "");
      let result = null;
      try {
        if (value !== "") result = await check(value);
      } catch {
        result = unchecked(phrase("unreadable"));
      }
      if (mine !== latest) return;  // typed on meanwhile
      if (result) return say(says, result);
      by_id(says).className = "";
      by_id(says).replaceChildren();
    });
  }
  function on_file(chooser, known) {
    chooser.addEventListener("change", async () => {
      const file = chooser.files[0];
      if (!file) return by_id("self-file-says").replaceChildren();
      try {
        say("self-file-says", await check_file(file, known));
      } catch {
        say("self-file-says", unchecked(phrase("unreadable")));
      }
    });
  }

  async function main() {
    const page = page_text();  // before this script changes anything
    by_id("self").hidden = false;
    const fields = ["self-file", "self-code", "self-shop-key"].map(by_id);
    let known;
    try {
      words = JSON.parse(by_id("words").textContent);
      known = await check_page(page);
    } catch {
      fields.forEach((f) => f.disabled = true);
      const able = globalThis.crypto && crypto.subtle;
      return say("self-says", able ? altered(phrase("key_broken")) : unchecked(phrase("no_crypto")));
    }
    on_file(fields[0], known);
    on_text(fields[1], "self-code-says", (value) => check_code(value, known));
    on_text(fields[2], "self-shop-key-says",
            async (value) => value === known.key.id ? authentic(phrase("key_same")) : altered(phrase("key_differs")));
  }
  if (document.readyState === "loading")
    document.addEventListener("DOMContentLoaded", main);
  else
    main();
})();
