/* Forms for one record, made from what the server wrote into `data-form`; and the small buttons that
   take a change back or let a record stand. All are sent to the same place as the log's entries. */
(function () {
  const queue = window.orchardQueue;

  function el(tag, props, ...children) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(props || {})) {
      if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
      else if (name in made && !name.startsWith("aria")) made[name] = value;
      else if (value !== null && value !== false) made.setAttribute(name, value);
    }
    made.append(...children.flat().filter(Boolean));
    return made;
  }

  function build(place) {
    const told = JSON.parse(place.dataset.form);
    const base = place.id;
    let id = queue.newId();
    const say = (name, values) => told.texts[name].replace(/\{(\w+)\}/g, (_, key) => (values || {})[key] ?? "");
    const inputs = new Map();
    const wrongs = new Map();
    const said = el("div", { className: "form-said", role: "status" });
    const button = el("button", { type: "submit" }, told.save);

    const parts = told.fields.map((field) => {
      const name = `${base}-${field.name}`;
      const about = { id: name, name: field.name, value: field.value, placeholder: field.hint, "aria-describedby": `${name}-wrong`, autocomplete: "off" };
      const control = field.choices.length
        ? el("select", { id: name, name: field.name, "aria-describedby": `${name}-wrong` }, ["", ...field.choices].map((each) => el("option", { value: each, selected: each === field.value }, each)))
        : field.kind === "date"
          ? window.orchardDateField({ id: name, name: field.name, value: field.value, latest: field.latest, ways: told.dates, label: field.label })
          : el("input", { ...about, type: field.kind, inputMode: field.number ? "decimal" : "text" });
      const input = control.input || control; // of a date field, what is typed into
      const list = field.suggestions.length || field.depends
        ? el("datalist", { id: `${name}-list` }, field.suggestions.map((each) => el("option", { value: each })))
        : null;
      if (list) input.setAttribute("list", list.id);
      const wrong = el("div", { id: `${name}-wrong`, className: "log-wrong", role: "alert", hidden: true });
      inputs.set(field.name, input);
      wrongs.set(field.name, wrong);
      const label = el("label", { htmlFor: name }, field.label, field.needed ? ` (${say("needed")})` : "");
      return el("div", { className: "log-field", "data-field": field.name }, label,
        field.told ? el("p", { className: "quiet" }, field.told) : null, control, here(field, input, wrong), list, wrong);
    });

    for (const field of told.fields.filter((each) => each.depends)) {
      const list = parts.map((part) => part.querySelector("datalist")).find((each) => each && each.id === `${base}-${field.name}-list`);
      const other = inputs.get(field.depends);
      other.addEventListener("change", () =>
        list.replaceChildren(...(field.lists[other.value] || []).map((each) => el("option", { value: each }))));
    }
    /** A button that fills in where this device is. */
    function here(field, input, wrong) {
      if (!field.here[0] || !navigator.geolocation) return null;
      return el("button", { type: "button", className: "log-chip", onclick: () =>
        navigator.geolocation.getCurrentPosition(
          (found) => { input.value = `${found.coords.latitude.toFixed(4)}, ${found.coords.longitude.toFixed(4)}`; },
          () => { wrong.textContent = field.here[1]; wrong.hidden = false; }) }, field.here[0]);
    }
    function clear() {
      said.replaceChildren();
      inputs.forEach((input) => input.removeAttribute("aria-invalid"));
      wrongs.forEach((wrong) => { wrong.hidden = true; wrong.replaceChildren(); });
    }
    function blame(name, ...words) {
      const field = inputs.has(name) ? name : name === "who" && inputs.has("tree") ? "tree" : null;
      if (!field) return said.replaceChildren(el("div", { className: "log-wrong", role: "alert" }, words));
      const wrong = wrongs.get(field);
      wrong.replaceChildren(...words);
      wrong.hidden = false;
      inputs.get(field).setAttribute("aria-invalid", "true");
      inputs.get(field).focus();
    }
    const again = (words, extra) => el("button", { type: "button", className: "log-chip", onclick: () => send(extra) }, words);

    async function send(extra) {
      clear();
      const cells = { ...told.fixed };
      for (const field of told.fields) {
        const typed = window.orchardTyped(inputs.get(field.name)).trim();
        if (!typed && field.needed) return blame(field.name, say("blank"));
        if (typed) cells[field.name] = field.unit && /^[\d.,]+$/.test(typed) ? typed + field.unit : typed;
      }
      let who = {};
      if (told.kind !== "sites" && told.kind !== "trees") {
        who = cells.tree ? { tree: cells.tree } : { site: cells.site || "" };
        delete cells.tree;
        delete cells.site;
      }
      button.disabled = true;
      said.textContent = say("waiting");
      const answer = await queue.post("entries", { id, kind: told.kind, who, cells, ...extra });
      button.disabled = false;
      said.replaceChildren();
      if (answer.status === "kept") {
        id = queue.newId();
        const undo = answer.batch ? el("button", { type: "button", className: "log-chip", "data-undo": String(answer.batch) }, say("undo")) : null;
        said.replaceChildren(el("bdi", {}, say("saved", { words: answer.words })), ...[undo].filter(Boolean));
        if (told.then) {
          const then = told.then.replace(/\{(\w+)\}/g, (_, name) => encodeURIComponent(cells[name] || ""));
          return location.assign(new URL(then, location.href));
        }
        inputs.forEach((input, name) => { if (name !== "tree" && name !== "site" && name !== "date") input.value = ""; });
        return renew();
      }
      if (answer.status === "asks") return said.replaceChildren(el("div", { className: "log-wrong", role: "alert" }, `${say("asks")}: ${answer.notes.join(" ")}`, again(say("keep"), { sure: true })));
      if (answer.status === "on record") return blame(answer.field, answer.reason, again(say("replace"), { replace: true }));
      if (answer.status === "no answer" || answer.status === "signed out") return blame("", say("no_answer"));
      blame(answer.field, answer.reason);
    }
    place.replaceChildren(el("form", { noValidate: true, autocomplete: "off", onsubmit: (event) => { event.preventDefault(); send(); } },
      el("div", { className: "log-grid" }, parts), el("div", { className: "log-save" }, button), said));
  }

  /** Tell the table and what stands below it that something changed. */
  function renew() {
    if (document.getElementById("records-below")) window.dash_clientside.set_props("records-refresh", { data: Date.now() });
  }

  addEventListener("click", async (event) => {
    const button = event.target.closest("[data-undo], [data-stand]");
    if (!button || button.disabled) return;
    button.disabled = true;
    const undo = button.dataset.undo;
    const answer = undo
      ? await queue.post("entries/undo", { batch: Number(undo) })
      : await queue.post("entries/stand", { code: button.dataset.stand });
    if (answer.status === "kept") {
      button.replaceWith(el("span", {}, "✓"));
      return renew();
    }
    button.disabled = false;
    button.after(el("span", { className: "log-wrong", role: "alert" }, answer.reason || "–"));
  });

  async function toClipboard(text) {
    try {
      await navigator.clipboard.writeText(text);
      return true;
    } catch {
      const area = el("textarea", { value: text, readOnly: true });
      document.body.append(area);
      area.select();
      const done = document.execCommand("copy");
      area.remove();
      return done;
    }
  }
  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.records = {
    refresh: () => {
      const grid = window.dash_ag_grid && window.dash_ag_grid.getApi("records-grid");
      if (grid) grid.refreshInfiniteCache();
      return window.dash_clientside.no_update;
    },
    copy: async (asked) => {
      if (asked) {
        const done = await toClipboard(asked.text);
        window.dash_clientside.set_props("records-said", { children: done ? asked.said : asked.failed });
      }
      return window.dash_clientside.no_update;
    },
  };

  new MutationObserver(() => {
    document.querySelectorAll(".record-form[data-form]:empty").forEach(build);
  }).observe(document.documentElement, { childList: true, subtree: true });
})();
