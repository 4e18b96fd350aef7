/* Parts of a page that only show, made of the data they were sent as (dashboard/components/plain.py). */
(() => {
  const TAGS = new Set([
    "a", "bdi", "button", "caption", "details", "div", "h2", "h3", "li", "p", "section", "span", "strong", "summary",
    "table", "tbody", "td", "th", "thead", "tr", "ul",
  ]);
  const FOCUS = "a, button, summary";

  const make = (part) => {
    if (!Array.isArray(part)) return document.createTextNode(part);
    const [tag, attributes, inside] = part;
    if (!TAGS.has(tag)) throw new Error(`no tag of a plain part: ${tag}`);
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (value !== false) made.setAttribute(name, value === true ? "" : value);
    }
    made.append(...inside.map(make));
    return made;
  };

  /** Put the parts in place; folds stay as they are, and the keyboard where it was. */
  const show = (place) => {
    const folds = new Map();
    place.querySelectorAll("details[data-fold]").forEach((fold) => folds.set(fold.dataset.fold, fold.open));
    const at = [...place.querySelectorAll(FOCUS)].indexOf(document.activeElement);
    place.replaceChildren(...JSON.parse(place.dataset.parts).map(make));
    place.querySelectorAll("details[data-fold]").forEach((fold) => {
      if (folds.has(fold.dataset.fold)) fold.open = folds.get(fold.dataset.fold);
    });
    if (at < 0) return;
    const all = place.querySelectorAll(FOCUS);
    all[Math.min(at, all.length - 1)]?.focus({ preventScroll: true });
  };

  new MutationObserver((changes) => {
    for (const change of changes) {
      if (change.type === "attributes") show(change.target);
      for (const node of change.addedNodes) {
        if (node.nodeType !== Node.ELEMENT_NODE) continue;
        if (node.matches("[data-parts]")) show(node);
        node.querySelectorAll("[data-parts]").forEach(show);
      }
    }
  }).observe(document, { attributeFilter: ["data-parts"], childList: true, subtree: true });

  /* A link goes on within the app, as Dash's own do. */
  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-parts] a[href]");
    if (!link || event.metaKey || event.shiftKey || event.altKey || event.ctrlKey) return;
    event.preventDefault();
    window.history.pushState({}, "", link.href);
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
    window.scrollTo(0, 0);
  });
})();
