/* A field for a day, for forms that scripts make: shown in the order chosen, with a month to choose
   from that begins its weeks on the day chosen. What is typed is read where it is kept. */
(function () {
  const MOST_YEARS = 60;
  const BARS_PX = 62; // the frame's bars above and below
  const pad = (number) => String(number).padStart(2, "0");
  const iso = (year, month, day) => `${year}-${pad(month + 1)}-${pad(day)}`;
  const isDay = (text) => /^\d{4}-\d\d-\d\d$/.test(text);

  function make(tag, props, ...children) {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(props)) {
      if (name in made && !name.startsWith("aria")) made[name] = value;
      else made.setAttribute(name, value);
    }
    made.append(...children);
    return made;
  }
  function localDay() {
    const now = new Date();
    return iso(now.getFullYear(), now.getMonth(), now.getDate());
  }

  /** The day in a field of this sort, as 2026-08-12, or what was typed into it; any other's text. */
  window.orchardTyped = (input) => (input.dataset.shown === input.value ? input.dataset.day : input.value);

  /** The field: an element whose `input` is what is typed into. `changed` hears of every change. */
  window.orchardDateField = function ({ id, name, value, latest, label, ways, changed }) {
    const said = ways.texts;
    const input = make("input", { id, name: name || "", type: "text", autocomplete: "off", "aria-label": label });
    const opener = make("button", { type: "button", className: "date-opener", "aria-label": said.open, "aria-expanded": "false" },
      make("span", { "aria-hidden": "true" }, "▾"));
    const month = make("div", { className: "date-month", hidden: true, role: "dialog", "aria-label": said.open });
    const field = make("span", { className: "date-field" }, input, opener, month);
    field.input = input;
    let seen = [0, 0]; // the year and month that are open

    function put(day) {
      input.value = isDay(day) ? window.dashAgGridFunctions.orchardDates(day, [ways.order, ways.months]) : day;
      input.dataset.day = day;
      input.dataset.shown = input.value;
    }
    function chosen(day) {
      put(day);
      shut();
      input.focus();
      if (changed) changed(day);
    }
    function shut() {
      month.hidden = true;
      opener.setAttribute("aria-expanded", "false");
    }
    function open(year, at, focus) {
      const first = new Date(Date.UTC(year, at, 1));
      seen = [first.getUTCFullYear(), first.getUTCMonth()];
      const opens = month.hidden;
      month.hidden = false;
      opener.setAttribute("aria-expanded", "true");
      draw();
      if (opens) place();
      month.scrollIntoView({ block: "nearest" });
      if (focus) month.querySelector(focus).focus();
    }
    /** Above the field where there is no room below it, as over the navigation of a phone. */
    function place() {
      const { top, bottom } = field.getBoundingClientRect();
      const high = month.offsetHeight + BARS_PX;
      month.classList.toggle("up", bottom + high > innerHeight && top > high);
    }
    function choice(words, options, now, change) {
      const made = make("select", { "aria-label": words }, ...options.map(([each, told]) => make("option", { value: each, selected: each === now }, told)));
      made.onchange = () => change(Number(made.value));
      return made;
    }
    function draw() {
      const [year, at] = seen;
      const now = window.orchardTyped(input);
      const last = Math.max(year, Number((latest || localDay()).slice(0, 4)) + (latest ? 0 : 1));
      const years = Array.from({ length: MOST_YEARS }, (_, back) => last - back).map((each) => [each, String(each)]);
      if (year <= last - MOST_YEARS) years.push([year, String(year)]);
      const step = (by, mark, words) => {
        const made = make("button", { type: "button", "aria-label": words }, mark);
        made.onclick = () => open(year, at + by, `[aria-label="${words}"]`);
        return made;
      };
      const head = make("div", { className: "date-head" }, step(-1, "‹", said.back),
        choice(said.month, ways.months.map((each, place) => [place, each]), at, (to) => open(year, to, "select")),
        choice(said.year, years, year, (to) => open(to, at, "select:nth-of-type(2)")), step(1, "›", said.on));
      const lead = (new Date(Date.UTC(year, at, 1)).getUTCDay() + 6 - ways.first + 7) % 7;
      const days = new Date(Date.UTC(year, at + 1, 0)).getUTCDate();
      const cells = Array.from({ length: 7 }, (_, place) =>
        make("span", { className: "date-weekday", "aria-hidden": "true" }, ways.weekdays[(ways.first + place) % 7]));
      for (let blank = 0; blank < lead; blank += 1) cells.push(make("span", {}));
      for (let day = 1; day <= days; day += 1) {
        const here = iso(year, at, day);
        const made = make("button", {
          type: "button", disabled: Boolean(latest) && here > latest, "aria-pressed": String(here === now),
          "aria-label": window.dashAgGridFunctions.orchardDates(here, [ways.order, ways.months]),
        }, String(day));
        made.dataset.day = here;
        made.onclick = () => chosen(here);
        cells.push(made);
      }
      month.replaceChildren(head, make("div", { className: "date-days" }, ...cells));
    }
    put(value || "");
    input.oninput = () => changed && changed(window.orchardTyped(input).trim());
    opener.onclick = () => {
      if (!month.hidden) return shut();
      const now = window.orchardTyped(input);
      const [year, at] = (isDay(now) ? now : latest || localDay()).split("-").map(Number);
      open(year, at - 1, isDay(now) ? `[data-day="${now}"]` : "select");
    };
    field.onkeydown = (event) => {
      const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -7, ArrowDown: 7 };
      const from = event.target.dataset.day;
      if (event.key === "Escape" && !month.hidden) {
        event.stopPropagation();
        shut();
        opener.focus();
      } else if (from && event.target !== input && event.key in steps) {
        event.preventDefault();
        const [year, at, day] = from.split("-").map(Number);
        const to = new Date(Date.UTC(year, at - 1, day + steps[event.key]));
        const there = iso(to.getUTCFullYear(), to.getUTCMonth(), to.getUTCDate());
        if (!latest || there <= latest) open(to.getUTCFullYear(), to.getUTCMonth(), `[data-day="${there}"]`);
      }
    };
    field.addEventListener("focusout", (event) => {
      // Nothing has the focus while a month is drawn anew.
      if (event.relatedTarget && !field.contains(event.relatedTarget)) shut();
    });
    document.addEventListener("pointerdown", (event) => field.isConnected && !field.contains(event.target) && shut());
    return field;
  };
})();
