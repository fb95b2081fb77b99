// What is typed, tapped and photographed in the boxes beside it. A letter counts as not saved until the kernel has said
// that it has it: until then it stays in this browser, and is told so.
const WAIT = 4000, PIECE = 1 << 20;

export default { render({ model, el }) {
  const waiting = new Map();  // what was typed into: {number of the last key told, its timer}
  const heard = new Map();  // photos whose end is to be answered
  const status = document.createElement("p"), alert = document.createElement("p");
  status.setAttribute("role", "status");
  alert.setAttribute("role", "alert");
  el.append(status, alert);
  let told = 0, panel;
  const say = () => { status.textContent = model.get("said"); alert.textContent = model.get("wrong"); };
  const named = name => panel?.querySelector(`[data-entry="${CSS.escape(name)}"]`);
  const send = (what, buffers) => { try { model.send(what, undefined, buffers); } catch { /* no kernel to hear it */ } };
  const kept = () => Object.keys(localStorage).filter(name => name.startsWith(`${model.get("book")}\n`));

  const mark = name => {  // no answer: the kernel is gone
    if (!waiting.has(name)) return;
    for (const each of waiting.keys()) {
      const box = named(each)?.closest(".box");
      if (box) box.dataset.lost = "not saved yet: the notebook doesn't answer";
    }
    const names = [...waiting.keys()].join(", ");
    alert.textContent = `Not saved: ${names}. The notebook doesn't answer: if it stays so, press ▶▶ above. What is typed stays in this browser.`;
  };
  const tell = (box, rests) => {
    const name = box.dataset.entry, number = ++told, { trial, by } = panel.querySelector("[data-trial]").dataset;
    const place = `${model.get("book")}\n${trial}\n${name}`, before = waiting.get(name);
    const text = box.type === "checkbox" ? String(box.checked) : box.value;
    if (trial && !("aside" in box.dataset)) {
      localStorage.setItem(place, JSON.stringify({ key: trial, entry: name, text, by, stood: box.defaultValue }));
      clearTimeout(before?.timer);
      waiting.set(name, { number, place, timer: setTimeout(mark, WAIT, name) });
    }
    send({ entry: name, text, number, rests });
  };

  const photograph = async files => {
    for (const [n, file] of [...files].entries()) {  // in pieces that any server lets through, one photo after another
      const bytes = file.size > model.get("most") ? new ArrayBuffer(0) : await file.arrayBuffer();
      const about = { photo: file.name, size: file.size, taken: file.lastModified, left: files.length - n - 1 };
      status.textContent = `${file.name} is on its way`;
      const answered = new Promise(done => heard.set(file.name, done));
      for (let at = 0; at === 0 || at < bytes.byteLength; at += PIECE)
        send({ ...about, ends: at + PIECE >= bytes.byteLength }, [bytes.slice(at, at + PIECE)]);
      const late = setTimeout(() => {
        alert.textContent = `${file.name} is not saved: the notebook doesn't answer. Press ▶▶ above and choose it again.`;
      }, 10 * WAIT);
      await answered;
      clearTimeout(late);
    }
  };

  const begin = () => {
    panel = el.closest(".kit-entry");
    if (!panel) return;
    panel.addEventListener("input", event => {
      const box = event.target;
      if (box.dataset.entry) tell(box, box.matches("select, [type=checkbox]"));
    });
    panel.addEventListener("change", event => {
      const box = event.target;
      if (box.type === "file") { photograph([...box.files]).then(() => { box.value = ""; }); }
      else if (box.matches("[data-entry]:not(select, [type=checkbox])")) tell(box, true);
    });
    panel.addEventListener("click", event => {
      const button = event.target.closest("[data-press]");
      if (button) send({ press: button.dataset.press });
    });
    panel.addEventListener("keydown", event => {
      if (event.key !== "Enter" || event.isComposing || !event.target.matches("input[data-entry]")) return;
      event.preventDefault();  // on to the next box, back with Shift
      const boxes = [...panel.querySelectorAll("[data-entry], .boxes [data-press], .after [data-press]")];
      const next = boxes[boxes.indexOf(event.target) + (event.shiftKey ? -1 : 1)];
      if (next) next.focus(); else event.target.blur();
    });
    const left = kept().map(name => [name, localStorage.getItem(name)]);
    if (left.length) send({ left });
    const at = document.activeElement;
    if (!at || at === document.body || (at.closest(".jp-Notebook") && !at.closest(".cm-editor, .kit-entry")) || at.closest(".jp-Toolbar"))
      panel.querySelector("[data-first]")?.focus({ preventScroll: true });
  };
  setTimeout(begin);
  say();
  model.on("change:said change:wrong", say);
  model.on("msg:custom", message => {
    for (const [name, number] of Object.entries(message.had ?? {})) {
      const at = waiting.get(name);
      if (!at || at.number > number) continue;
      clearTimeout(at.timer);
      localStorage.removeItem(at.place);
      waiting.delete(name);
      delete named(name)?.closest(".box")?.dataset.lost;
      if (!waiting.size) say();
    }
    for (const name of message.drop ?? []) localStorage.removeItem(name);
    for (const [name, text] of Object.entries(message.write ?? {})) { const box = named(name); if (box) box.value = text; }
    if (message.photo) { heard.get(message.photo)?.(); heard.delete(message.photo); }
    if (message.focus) setTimeout(() => {
      const at = named(message.focus) ?? panel?.querySelector(`[data-press="${CSS.escape(message.focus)}"]`);
      if (message.top) panel.scrollIntoView({ block: "start" });
      at?.focus({ preventScroll: message.top });
    });
  });
} };
