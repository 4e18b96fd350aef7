/* The form under the tree. It is made here, in the browser, so that it goes on working when the
   server cannot be reached; the queue (entry_queue.js) keeps what could not be sent. */
(function () {
  const queue = window.orchardQueue;
  const MOST_FOUND = 7;
  const RECENT = 3;
  const PHOTO_PX = 1600;
  const MEMORY = "orchard-log";
  let known = null; // what the server told: trees, actions, fields, texts
  let old = false; // whether that is from before, as the server did not answer
  let root = null;
  let form = null; // the state of the entry that is being made
  let saved = []; // what was logged while this page has been open
  let waiting = [];

  /** An element with properties and children; text never becomes markup. */
  function el(tag, props, ...children) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(props || {})) {
      if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
      else if (name in made && !name.startsWith("aria")) made[name] = value;
      else if (value !== null && value !== false) made.setAttribute(name, value);
    }
    made.append(...children.flat().filter((child) => child !== null && child !== undefined));
    return made;
  }
  const say = (name, values) =>
    known.texts[name].replace(/\{(\w+)\}/g, (_, key) => (values || {})[key] ?? "");

  /* What the browser remembers: units, the last tree and cultivar, what was tapped. */
  function remembered() {
    try {
      return JSON.parse(localStorage.getItem(MEMORY + queue.prefix())) || {};
    } catch {
      return {};
    }
  }
  function remember(changes) {
    try {
      const all = { ...remembered(), ...changes };
      localStorage.setItem(MEMORY + queue.prefix(), JSON.stringify(all));
    } catch {
      /* a private window remembers nothing */
    }
  }

  /** Learn what the server tells; where it does not answer, what it told last, of the same version. */
  async function learn() {
    const key = MEMORY + "-known" + queue.prefix();
    try {
      const answer = await fetch(queue.prefix() + "entries/choices", { credentials: "same-origin" });
      known = { ...(await answer.json()), fetched: localDay(0), at: new Date().toTimeString().slice(0, 5) };
      old = false;
      localStorage.setItem(key, JSON.stringify(known));
    } catch {
      try {
        const told = known || JSON.parse(localStorage.getItem(key));
        known = told && told.version === root.dataset.version ? told : null;
        old = true;
      } catch {
        /* nothing is remembered */
      }
    }
  }

  /* Days */
  const pad = (number) => String(number).padStart(2, "0");
  function localDay(back) {
    const day = new Date();
    day.setDate(day.getDate() - back);
    return `${day.getFullYear()}-${pad(day.getMonth() + 1)}-${pad(day.getDate())}`;
  }
  /** Today in the orchard: what the server said, moved on with this device's calendar. */
  function today(back) {
    const passed = known.fixed ? 0 : Math.round((new Date(localDay(0)) - new Date(known.fetched)) / 864e5);
    const day = new Date(known.today + "T12:00:00Z");
    day.setUTCDate(day.getUTCDate() + passed - back);
    return day.toISOString().slice(0, 10);
  }
  const dated = (day) => window.dashAgGridFunctions.orchardDates(day, [known.dates.order, known.dates.months]);
  function dayWords() {
    if (form.day === today(0)) return say("today").toLowerCase();
    if (form.day === today(1)) return say("yesterday").toLowerCase();
    return dated(form.day);
  }

  /* Names: a part fits where each of its words begins a word of the name; a number must be the same,
     unless it is still being typed (the last word). */
  const words = (text) => text.toLowerCase().match(/[\p{L}\p{N}_]+/gu) || [];
  function fits(asked, name, typing) {
    const there = words(name);
    return asked.every((word, place) => {
      const whole = /^\d+$/.test(word) && !(typing && place === asked.length - 1);
      return there.some((each) => (whole ? each === word : each.startsWith(word)));
    });
  }
  const kindOf = (action) => known.kinds[action.kind];
  const actionNow = () => known.actions.find((each) => each.key === form.action);
  function cultivars() {
    const found = new Map();
    for (const tree of known.trees) {
      const name = `${tree.cultivar} (${tree.species})`;
      const one = found.get(name) || { name, shown: tree.cultivar_shown, count: 0 };
      found.set(name, { ...one, count: one.count + 1 });
    }
    return [...found.values()];
  }
  const treeItem = (tree) => ({
    sort: "tree", name: tree.name, label: tree.shown, told: `${tree.cultivar_shown}, ${tree.site}`,
  });
  const manyItem = (one) => ({
    sort: "all_of", name: one.name, label: say("all_of_chip", { name: one.shown }),
    told: say("all_of", { name: one.name, count: one.count }),
  });
  function rows() {
    const found = new Map();
    for (const tree of known.trees) {
      if (!tree.row) continue;
      const one = found.get(tree.row) || { name: tree.row, shown: tree.row_shown, count: 0 };
      found.set(tree.row, { ...one, count: one.count + 1 });
    }
    return [...found.values()];
  }
  const rowItem = (one) => ({
    sort: "all_of", name: one.name, label: one.shown, told: say("all_of_row", { count: one.count }),
  });
  const siteItem = (site) => ({
    sort: "site", name: site.name, label: say("whole_site", { name: site.shown }), told: "",
  });
  function allowed(item) {
    const action = actionNow();
    if (item.sort === "all_of") return !action || kindOf(action).all_of;
    return item.sort !== "site" || Boolean(action && kindOf(action).site);
  }
  function found(text) {
    const asked = words(text);
    if (!asked.length) return [];
    const by = (name, typing) => known.trees.filter((tree) => fits(asked, name(tree), typing));
    const own = (tree) => tree.name;
    const trees = [...new Set([...by(own), ...by(own, true), ...by((tree) => tree.cultivar)])];
    const many = cultivars().filter((one) => fits(asked, one.name)).map(manyItem);
    const lines = rows().filter((one) => fits(asked, one.name, true)).map(rowItem);
    const sites = known.sites.filter((site) => fits(asked, site.name)).map(siteItem);
    return [...many, ...lines, ...sites].filter(allowed).concat(trees.map(treeItem));
  }
  /** Whom one tap can name: the last ones, the next tree in the row, that row, all of the last
      cultivar. */
  function near() {
    const last = remembered().recent || [];
    const items = last.filter(allowed);
    const tree = last.find((item) => item.sort === "tree");
    const at = known.trees.findIndex((each) => tree && each.name === tree.name);
    if (at >= 0) {
      const next = known.trees[at + 1];
      if (next) items.splice(1, 0, treeItem(next));
      const own = `${known.trees[at].cultivar} (${known.trees[at].species})`;
      const many = [...cultivars().filter((one) => one.name === own).map(manyItem),
        ...rows().filter((one) => one.name === known.trees[at].row).map(rowItem)];
      items.push(...many.filter(allowed));
    } else items.push(...known.trees.slice(0, 3).map(treeItem));
    const seen = new Set();
    return items.filter((item) => {
      const key = item.sort + item.name;
      return !seen.has(key) && seen.add(key);
    });
  }

  /* The entry that is being made */
  function blank(kept) {
    const last = (remembered().recent || [])[0];
    return {
      id: queue.newId(), who: last && last.sort === "tree" ? last : null, typed: "",
      action: remembered().action || null, values: {}, day: today(0), other: false,
      photo: null, said: null, busy: false, more: false, ...kept,
    };
  }
  function unitOf(field) {
    const units = (known.units || {})[field.sort];
    const chosen = remembered()["unit " + field.sort];
    return { units: units || [], unit: units && units.includes(chosen) ? chosen : units && units[0] };
  }
  /** The entry as the server takes it: numbers with the unit they were typed in. */
  function entryNow(extra) {
    const action = actionNow();
    const cells = { ...action.cells, date: form.day };
    for (const field of kindOf(action).fields) {
      const typed = (form.values[field.name] || "").trim();
      if (!typed) continue;
      const unit = /[a-z"]/i.test(typed) ? "" : unitOf(field).unit || "";
      cells[field.name] = typed + unit;
    }
    const who = form.who || { sort: "tree", name: form.typed.trim() };
    return { kind: action.kind, who: { [who.sort]: who.name }, cells, by: known.person, ...extra };
  }
  const whoWords = () => (form.who ? form.who.label : form.typed.trim());
  function entryWords() {
    const action = actionNow();
    const main = kindOf(action).fields.find((field) => field.needed);
    const typed = main && !action.cells[main.name] ? form.values[main.name] || "" : "";
    const unit = main && typed && !/[a-z"]/i.test(typed) ? unitOf(main).unit || "" : "";
    return [`${action.name} ${typed}${unit}`.trim(), whoWords(), dayWords()].join(", ");
  }
  function lacking() {
    if (!whoWords()) return { field: "who", reason: say("who_needed") };
    const action = actionNow();
    if (!action) return { field: "what", reason: say("what_needed") };
    const blank = kindOf(action).fields.find(
      (field) => field.needed && !action.cells[field.name] && !(form.values[field.name] || "").trim());
    return blank ? { field: blank.name, reason: say("value_needed") } : null;
  }

  async function save(extra) {
    if (form.busy) return;
    const wrong = lacking();
    if (wrong) return judged({ status: "refused", ...wrong });
    const item = {
      id: form.id, order: Date.now(), state: "waiting", entry: entryNow(extra), words: entryWords(),
      photo: form.photo, photoName: form.photo && form.photo.name,
      made: { who: form.who, typed: form.typed, action: form.action, values: form.values, day: form.day },
    };
    form.busy = true;
    form.said = null;
    draw();
    let kept = true;
    try {
      await queue.put(item);
    } catch {
      kept = false;
    }
    noteRecent();
    const said = await queue.send(item);
    if (queue.waits(said.status)) {
      if (!kept) judged({ status: "refused", field: "save", reason: say("no_store") });
      else {
        saved.unshift({ queued: true, words: say("queued", { words: item.words }) });
        again();
      }
    } else if (said.status === "kept") {
      saved.unshift({ words: said.words, batch: said.batch, notes: said.notes });
      again();
      const before = old;
      learn().then(() => before && !old && draw());
    } else judged(said);
    await queue.tell();
  }
  function noteRecent() {
    const who = form.who || { sort: "tree", name: form.typed.trim(), label: form.typed.trim(), told: "" };
    const others = (remembered().recent || []).filter((item) => item.sort !== who.sort || item.name !== who.name);
    remember({ recent: [who, ...others].slice(0, RECENT), action: form.action });
  }
  /** Ready for the next entry: the same tree, the same thing, the same day. */
  function again() {
    form = blank({ action: form.action, who: form.who, day: form.day, other: form.other });
    saved = saved.slice(0, 8);
    draw();
    const told = root.querySelector(".log-saved");
    if (told) told.scrollIntoView({ block: "nearest" });
  }
  /** Show what is wrong beside its field. */
  function judged(said) {
    form.busy = false;
    form.said = said;
    const action = actionNow();
    const field = action && kindOf(action).fields.find((each) => each.name === said.field);
    if (field && !field.first) form.more = true;
    draw();
    const place = root.querySelector(`[data-field="${CSS.escape(said.field || "")}"]`) || root.querySelector(".log-save");
    place.scrollIntoView({ block: "center" });
    const input = place.querySelector("input, select, textarea");
    if (input && said.status === "refused") input.focus({ preventScroll: true });
  }
  async function undo(entry) {
    const said = await queue.post("entries/undo", { batch: entry.batch });
    if (said.status === "kept") {
      entry.notes = [];
      entry.words = say("undone", { words: entry.words });
    } else entry.notes = [say("undo_failed", { reason: said.reason || say("offline") })];
    entry.batch = said.status === "kept" ? null : entry.batch;
    draw();
  }

  /* Photos are made smaller before they wait: a slow link has to carry them. */
  async function shrunk(file) {
    try {
      const picture = await createImageBitmap(file);
      const scale = Math.min(1, PHOTO_PX / Math.max(picture.width, picture.height));
      const canvas = el("canvas", { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.82));
      return new File([blob], file.name.replace(/\.\w+$/, "") + ".jpg", { type: "image/jpeg" });
    } catch {
      return null;
    }
  }

  /* Drawing: the whole form anew after every tap; what is being typed is never drawn over. */
  function wrong(field) {
    const said = form.said;
    if (!said || said.field !== field || said.status === "asks") return null;
    const fix = said.status !== "on record" ? null :
      el("button", { type: "button", className: "log-chip", onclick: () => save({ replace: true }) }, say("replace"));
    return el("div", { className: "log-wrong", id: `wrong-${field}`, role: "alert" }, said.reason, fix);
  }
  const chip = (text, chosen, onclick, label) =>
    el("button", { type: "button", className: "log-chip", "aria-pressed": String(Boolean(chosen)), onclick, "aria-label": label || null }, text);

  function whoPart() {
    const hits = el("div", { className: "log-hits" });
    const many = !actionNow() || kindOf(actionNow()).all_of;
    const input = el("input", {
      id: "log-who", type: "text", value: form.who ? form.who.label : form.typed, autocomplete: "off",
      placeholder: say(many ? "who_hint_many" : "who_hint"), enterKeyHint: "done", "aria-describedby": "wrong-who",
      "aria-invalid": String(Boolean(form.said && form.said.field === "who")),
      oninput: () => {
        form.who = null;
        form.typed = input.value;
        list();
        summary();
      },
      onfocus: () => input.select(),
    });
    function list() {
      const all = form.who ? [] : found(form.typed);
      const items = all.slice(0, MOST_FOUND).map((item) =>
        el("button", { type: "button", className: "log-hit", onclick: () => { form.who = item; form.said = null; draw(); } },
          el("bdi", {}, item.label), item.told ? el("span", { className: "quiet" }, item.told) : null));
      const over = all.length - MOST_FOUND;
      if (over > 0) items.push(el("p", { className: "quiet" }, say("more_fit", { count: over })));
      if (!form.who && form.typed.trim() && !all.length) items.push(el("p", { className: "quiet" }, say("who_none")));
      hits.replaceChildren(...items);
    }
    list();
    const chips = near().map((item) =>
      chip(item.label, form.who && form.who.sort === item.sort && form.who.name === item.name,
        () => { form.who = item; form.typed = ""; form.said = null; draw(); }));
    return el("div", { className: "log-part", "data-field": "who" },
      el("label", { htmlFor: "log-who", className: "log-title" }, say("who")),
      known.trees.length ? null : el("p", {}, say("who_empty")),
      el("div", { className: "log-chips" }, chips), input, hits, wrong("who"));
  }
  function whatPart() {
    const tiles = known.actions.map((action) =>
      el("button", {
        type: "button", className: "log-tile", "aria-pressed": String(form.action === action.key), "data-action": action.key,
        onclick: () => {
          form.action = action.key;
          form.said = null;
          if (form.who && !allowed(form.who)) form.who = null;
          draw();
          const input = root.querySelector(".log-fields .log-field input[type=text], .log-fields select");
          const next = input || root.querySelector(".log-save");
          if (input && !input.closest(".log-more")) input.focus({ preventScroll: true });
          next.scrollIntoView({ block: "center", behavior: "smooth" });
        },
      }, el("strong", {}, action.name), el("span", {}, action.told)));
    return el("div", { className: "log-part", "data-field": "what", role: "group", "aria-label": say("what") },
      el("h2", { className: "log-title" }, say("what")), el("div", { className: "log-tiles" }, tiles),
      actionNow() ? el("p", { className: "quiet log-means" }, actionNow().means) : null, wrong("what"));
  }
  function speciesNow() {
    const tree = form.who && known.trees.find((each) => each.name === form.who.name);
    if (tree) return tree.species;
    return form.who && form.who.sort === "all_of" ? (form.who.name.match(/\(([^()]*)\)$/) || [])[1] : "apple";
  }
  /* What a field offers while it is typed in; anything else may be typed as well. */
  const offered = {
    product: () => known.products,
    cultivar: () => known.cultivars[(form.values.species || "").trim().toLowerCase() || speciesNow()] || [],
  };
  function control(field) {
    const value = form.values[field.name] || "";
    const set = (event) => { form.values[field.name] = event.target.value; summary(); };
    const bad = form.said && form.said.field === field.name;
    const about = { id: "log-" + field.name, value, oninput: set, "aria-describedby": `wrong-${field.name}`, "aria-invalid": String(Boolean(bad)) };
    if (field.sort === "yes")
      return chip(say("yes"), value === "yes", () => { form.values[field.name] = value === "yes" ? "" : "yes"; draw(); }, `${field.label}: ${say("yes")}`);
    if (field.sort === "choice")
      return el("div", { className: "log-chips", role: "group", "aria-label": field.label },
        field.choices.filter((each) => each !== "no crop").map((each) =>
          chip(each, value === each, () => { form.values[field.name] = each; form.said = null; draw(); })));
    if (field.name === "bbch") {
      const stages = known.stages[known.species_groups[speciesNow()] || "pome"] || {};
      const options = Object.entries(stages).map(([code, told]) => el("option", { value: code, selected: code === value }, `${code}: ${told}`));
      return el("select", { ...about, onchange: set }, el("option", { value: "" }, say("stage_choose")), options);
    }
    const mode = { whole: "numeric", number: "decimal", weight: "decimal", girth: "decimal" }[field.sort];
    const input = el("input", { ...about, type: "text", inputMode: mode || "text", autocomplete: "off", enterKeyHint: "done" });
    if (field.sort in offered) input.setAttribute("list", "log-offered-" + field.sort);
    return input;
  }
  function fieldPart(field) {
    const { units, unit } = unitOf(field);
    const chips = units.length < 2 ? [] : units.map((each) =>
      chip(each, each === unit, () => { remember({ ["unit " + field.sort]: each }); draw(); }));
    return el("div", { className: "log-field", "data-field": field.name },
      el("label", { htmlFor: "log-" + field.name }, field.label),
      el("div", { className: "log-input" }, control(field), el("div", { className: "log-chips units", role: "group", "aria-label": say("unit") }, chips)),
      wrong(field.name));
  }
  function fieldsPart() {
    const action = actionNow();
    if (!action) return null;
    const fields = kindOf(action).fields.filter((field) => !(field.name in action.cells));
    const first = fields.filter((field) => field.first);
    const rest = fields.filter((field) => !field.first);
    const more = el("details", { className: "log-more", open: form.more, ontoggle: (event) => { form.more = event.target.open; } },
      el("summary", {}, say("more")), el("div", { className: "log-grid" }, rest.map(fieldPart), photoPart()));
    const law = action.kind === "sprays" ? el("p", { className: "caution" }, known.texts.law) : null;
    const lists = fields.filter((field) => field.sort in offered).map((field) =>
      el("datalist", { id: "log-offered-" + field.sort }, offered[field.sort]().map((name) => el("option", { value: name }))));
    return el("div", { className: "log-part log-fields" }, law, el("div", { className: "log-grid" }, first.map(fieldPart)), more, lists);
  }
  function photoPart() {
    const input = el("input", {
      type: "file", accept: "image/*", id: "log-photo", className: "log-file",
      onchange: async () => {
        if (!input.files.length) return;
        form.photo = await shrunk(input.files[0]);
        form.said = form.photo ? null : { status: "refused", field: "photo", reason: say("photo_failed") };
        form.more = true;
        draw();
      },
    });
    input.setAttribute("capture", "environment");
    const there = form.photo && el("div", { className: "log-chips" },
      el("span", {}, say("photo_there", { size: Math.ceil(form.photo.size / 1024) })),
      chip(say("photo_drop"), false, () => { form.photo = null; draw(); }));
    return el("div", { className: "log-field", "data-field": "photo" },
      el("label", { htmlFor: "log-photo", className: "log-chip" }, say("photo")), input, there, wrong("photo"));
  }
  function whenPart() {
    const set = (day, other) => () => { form.day = day; form.other = other; draw(); };
    const field = window.orchardDateField({
      id: "log-date", value: form.day, latest: known.fixed ? known.latest : today(0), label: say("another"), ways: known.dates,
      changed: (day) => { form.day = day || today(0); form.said = null; summary(); },
    });
    return el("div", { className: "log-part", "data-field": "date", role: "group", "aria-label": say("when") },
      el("h2", { className: "log-title" }, say("when")),
      el("div", { className: "log-chips" },
        chip(say("today"), !form.other && form.day === today(0), set(today(0), false)),
        chip(say("yesterday"), !form.other && form.day === today(1), set(today(1), false)),
        chip(say("another"), form.other, set(form.day, true)), form.other ? field : null), wrong("date"));
  }
  function summary() {
    const button = root && root.querySelector(".log-save button");
    if (button) button.textContent = saveWords();
  }
  function saveWords() {
    if (form.busy) return say("sending");
    const action = actionNow();
    if (!action || !whoWords()) return say("save");
    return say("save_what", { what: action.name, who: whoWords(), when: dayWords() });
  }
  function savePart() {
    const said = form.said;
    const asks = said && said.status === "asks" && el("div", { className: "notice log-asks", role: "alert" },
      el("h2", {}, say("asks")), el("ul", {}, said.notes.map((note) => el("li", {}, note))),
      el("div", { className: "log-chips" },
        chip(say("asks_keep"), false, () => save({ sure: true })),
        chip(say("asks_mend"), false, async () => { form.said = null; await queue.forget(form.id).catch(() => {}); draw(); })));
    const failed = said && (said.status === "failed" || said.field === "save" || said.field === "" && said.status === "refused");
    return el("div", { className: "log-part log-save", "data-field": "save" },
      asks || el("button", { type: "submit", disabled: form.busy }, saveWords()),
      failed ? el("div", { className: "log-wrong", role: "alert" }, said.reason) : null);
  }
  function savedPart() {
    if (!saved.length) return null;
    return el("section", { className: "log-saved", role: "status" }, el("h2", {}, say("saved")),
      el("ul", {}, saved.map((entry) => el("li", {}, el("bdi", {}, entry.words),
        (entry.notes || []).map((note) => el("p", {}, note)),
        entry.batch ? el("button", { type: "button", className: "log-chip", onclick: () => undo(entry) }, say("undo")) : null))));
  }
  function queuePart() {
    const items = waiting.filter((item) => item.id !== form.id);
    if (!items.length) return null;
    const row = (item) => {
      const reason = item.said ? item.said.reason || (item.said.notes || []).join(" ") : "";
      const states = { waiting: "queue_waiting", "signed out": "queue_signed_out", "another person": "queue_other", asks: "queue_asks" };
      const state = states[item.state] || "queue_refused";
      const drop = el("button", { type: "button", className: "log-chip", onclick: () => {
        if (drop.dataset.sure) return queue.forget(item.id).then(() => queue.tell());
        drop.dataset.sure = "yes";
        drop.textContent = say("queue_really");
      } }, say("queue_drop"));
      const stopped = !queue.waits(item.state);
      return el("li", { className: stopped ? "stopped" : "" }, el("strong", {}, el("bdi", {}, item.words)), " ", say(state, { reason }),
        el("div", { className: "log-chips" },
          item.state === "asks" ? chip(say("asks_keep"), false, () => resend(item, { sure: true })) : null,
          item.state === "on record" ? chip(say("replace"), false, () => resend(item, { replace: true })) : null,
          stopped ? chip(say("queue_mend"), false, () => mend(item)) : null, drop));
    };
    return el("section", { className: "log-queue", role: "status" }, el("h2", {}, `${say("queue")} (${items.length})`),
      el("p", {}, say("queue_told")), el("ul", {}, items.map(row)),
      el("button", { type: "button", className: "log-chip", onclick: () => queue.sendAll() }, say("queue_send")));
  }
  async function resend(item, extra) {
    await queue.put({ ...item, state: "waiting", entry: { ...item.entry, ...extra } });
    await queue.tell();
    queue.sendAll();
  }
  function mend(item) {
    form = blank({ id: item.id, ...item.made, photo: item.photo || null, other: item.made.day !== today(0), said: item.said });
    judged(item.said);
  }
  function draw() {
    if (!root || !known) return;
    const at = document.activeElement && document.activeElement.id;
    const made = el("form", { noValidate: true, autocomplete: "off", onsubmit: (event) => { event.preventDefault(); save(); } },
      whoPart(), whatPart(), fieldsPart(), whenPart(), savePart());
    const since = old && el("p", { className: "log-old" }, say("old", { when: `${dated(known.fetched)}, ${known.at}` }));
    root.replaceChildren(...[since, made].filter(Boolean), ...[savedPart(), queuePart()].filter(Boolean));
    const input = at && at.startsWith("log-") && document.getElementById(at);
    if (input && root.contains(input)) input.focus({ preventScroll: true });
  }

  async function build(place) {
    root = place;
    await learn();
    if (!known || !known.texts) return;
    const asked = new URLSearchParams(location.search);
    form = blank();
    const tree = known.trees.find((each) => each.name === asked.get("tree"));
    if (tree) form.who = treeItem(tree);
    if (known.actions.some((each) => each.key === asked.get("what"))) form.action = asked.get("what");
    waiting = await queue.list().catch(() => []);
    draw();
  }
  queue.hear((all, news) => {
    waiting = all;
    if (!root || !root.isConnected || !form) return;
    if (news && news.said.status === "kept") {
      saved.unshift({ words: news.said.words, batch: news.said.batch, notes: news.said.notes });
      saved = saved.slice(0, 8);
    }
    // What is being typed is not drawn over: only the lists below the form change.
    root.querySelectorAll(".log-saved, .log-queue").forEach((each) => each.remove());
    root.append(...[savedPart(), queuePart()].filter(Boolean));
  });
  function find() {
    const place = document.getElementById("log-form");
    if (place && place !== root) build(place);
  }
  new MutationObserver(find).observe(document.documentElement, { childList: true, subtree: true });
  find();
})();
