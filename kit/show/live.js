// Words and marks that stay in the page: a message names the parts that changed, and of those only what differs is
// written. What can be dragged is a slider of two directions to a keyboard and a screen reader.

const holder = part => part.namespaceURI.endsWith("svg")
  ? document.createElementNS(part.namespaceURI, "g") : document.createElement("div");

function merge(here, wanted) {
  const stood = [...here.childNodes];
  [...wanted.childNodes].forEach((node, n) => {
    const old = stood[n];
    if (!old) here.append(node);
    else if (old.nodeName !== node.nodeName) old.replaceWith(node);
    else if (node.dataset?.part && old.dataset.part === node.dataset.part) return;  // it is written by itself
    else if (node.nodeType !== Node.ELEMENT_NODE) { if (old.data !== node.data) old.data = node.data; }
    else {
      for (const { name } of [...old.attributes]) if (!node.hasAttribute(name)) old.removeAttribute(name);
      for (const { name, value } of node.attributes) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
      merge(old, node);
    }
  });
  stood.slice(wanted.childNodes.length).forEach(node => node.remove());
}

// Where the shape of a part's markup is what it was, the attributes and words that differ are written, and nothing is
// read as HTML anew: its attributes and words as they stand in the markup are the nodes that hold them, in their order.
const GIVEN = /"([^"]*)"|>([^<]+)/g, SIGNS = { amp: "&", lt: "<", gt: ">", quot: '"', "#x27": "'" };
const plain = text => text.replace(/&(amp|lt|gt|quot|#x27);/g, (_, sign) => SIGNS[sign]);
const known = new WeakMap();  // part: {shape, nodes}

function nodesOf(part) {
  return [...part.childNodes].flatMap(node =>
    node.nodeType === Node.ELEMENT_NODE ? [...node.attributes, ...(node.dataset.part ? [] : nodesOf(node))] : [node]);
}

function fill(part, markup) {
  const closed = `>${markup}`, shape = closed.replace(GIVEN, (_, value) => value === undefined ? ">words" : '"');
  const given = [...closed.matchAll(GIVEN)].map(([, value, words]) => plain(value ?? words));
  const stands = known.get(part);
  if (stands?.shape === shape) {
    stands.nodes.forEach((node, n) => { if (node.nodeValue !== given[n]) node.nodeValue = given[n]; });
    return;
  }
  const wanted = holder(part);
  wanted.innerHTML = markup;
  merge(part, wanted);
  const nodes = nodesOf(part);
  const told = nodes.length === given.length && nodes.every((node, n) => node.nodeValue === given[n]);
  known.set(part, told ? { shape, nodes } : {});
}

function write(el, parts) {
  for (const [key, markup] of Object.entries(parts)) {
    const [name, attribute] = key.split("@");
    for (const part of el.querySelectorAll(`[data-part="${name}"]`)) {
      if (attribute) part.setAttribute(attribute, markup);
      else fill(part, markup);
    }
  }
}

// What other widgets came to, as a message of their own would have told them.
async function take(manager, id, state) {
  const model = await manager.get_model(id);
  model.set_state(await model.constructor._deserialize_state(state, manager));
}

function drag(el, model) {
  let held = null;  // {name, to: from the window to the picture, off: from the pointer to the mark's middle}
  const place = event => new DOMPoint(event.clientX, event.clientY).matrixTransform(held.to);
  el.addEventListener("pointerdown", event => {
    const mark = event.target.closest("[data-handle]"), area = event.target.closest("[data-tap]");
    if (area && !event.button) {
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(area.ownerSVGElement.getScreenCTM().inverse());
      model.set("place", [area.dataset.tap, at.x, at.y]);
      model.save_changes();
    }
    if (!mark || event.button) return;
    const [x, y] = mark.dataset.at.split(" ").map(Number);
    held = { name: mark.dataset.handle, to: mark.ownerSVGElement.getScreenCTM().inverse() };
    const at = place(event);
    held.off = [x - at.x, y - at.y];
    mark.setPointerCapture(event.pointerId);
    mark.focus({ preventScroll: true });
    event.preventDefault();
  });
  el.addEventListener("touchstart", event => {  // else the page would scroll under the finger
    if (event.target.closest("[data-handle]")) event.preventDefault();
  }, { passive: false });
  // told as it happens where a browser can, not at the page's next frame
  el.addEventListener("onpointerrawupdate" in window ? "pointerrawupdate" : "pointermove", event => {
    if (!held) return;
    const at = place(event);
    model.set("place", [held.name, at.x + held.off[0], at.y + held.off[1]]);
    model.save_changes();
  });
  for (const end of ["pointerup", "pointercancel"]) el.addEventListener(end, () => { held = null; });
  const keys = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1], PageUp: [0, 10],
    PageDown: [0, -10], End: [10, 0], Home: [-10, 0] };
  el.addEventListener("keydown", event => {
    const mark = event.target.closest("[data-handle]"), step = keys[event.key];
    if (!mark || !step || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();  // the notebook would move to another cell
    const name = mark.dataset.handle, [right, up] = model.get("steps")[name] ?? [0, 0];
    model.set("steps", { ...model.get("steps"), [name]: [right + step[0], up + step[1]] });
    model.save_changes();
  });
}

export default () => {
  let parts;
  return {
    initialize({ model }) {
      const begin = () => { parts = { ...model.get("parts") }; };
      begin();
      model.on("change:parts", begin);
      model.on("msg:custom", message => {
        Object.assign(parts, message.parts);
        for (const [id, state] of Object.entries(message.states ?? {})) take(model.widget_manager, id, state);
      });
    },
    render({ model, el }) {
      const begin = () => { el.innerHTML = model.get("sheet"); write(el, parts); };
      const change = message => message.parts && write(el, message.parts);
      begin();
      drag(el, model);
      model.on("change:sheet change:parts", begin);
      model.on("msg:custom", change);
      return () => { model.off("change:sheet change:parts", begin); model.off("msg:custom", change); };
    },
  };
};
