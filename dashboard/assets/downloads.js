/* Tables and figures as files: made here from what is on the screen; nothing leaves this computer
   but the rows of a spreadsheet, which the orchard's own server packs. */
(function () {
  const INK = "#1d2a22";
  const NOTE_HEIGHT = 30;

  function context(part) {
    const frame = part.closest("[data-file]");
    return {
      file: (frame && frame.dataset.file) || "orchard",
      said: (frame && frame.dataset.said) || "",
    };
  }

  function save(blob, name) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = name;
    document.body.appendChild(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }

  /* What the table shows: its columns in their order, the rows that pass its filters, sorted. */
  function rowsOf(grid) {
    const api = window.dash_ag_grid.getApi(grid);
    const columns = api.getAllDisplayedColumns().map((column) => column.getColDef());
    const rows = [];
    api.forEachNodeAfterFilterAndSort((node) => {
      if (node.data) rows.push(columns.map((column) => node.data[column.field] ?? null));
    });
    return { header: columns.map((column) => column.headerName || column.field), rows };
  }

  /* A text that a spreadsheet would read as a formula gets an apostrophe in front; an import here
     takes it away again. */
  function plain(value) {
    if (value === null) return "";
    if (typeof value !== "string") return String(value);
    return /^'*[=+\-@\t\r＝＋－＠]/.test(value) ? "'" + value : value;
  }

  function csv(table) {
    const cell = (value) => {
      const text = plain(value);
      return /[",\r\n]/.test(text) ? '"' + text.replaceAll('"', '""') + '"' : text;
    };
    const lines = [table.header, ...table.rows].map((row) => row.map(cell).join(","));
    return "\ufeff" + lines.join("\r\n") + "\r\n";
  }

  async function copy(table) {
    const cell = (value) => plain(value).replace(/[\t\r\n]+/g, " ");
    const text = [table.header, ...table.rows].map((row) => row.map(cell).join("\t")).join("\n");
    if (navigator.clipboard) return navigator.clipboard.writeText(text);
    const field = document.createElement("textarea");
    field.value = text;
    document.body.appendChild(field);
    field.select();
    const done = document.execCommand("copy");
    field.remove();
    if (!done) throw new Error("not copied");
  }

  async function spreadsheet(table, where, said, name) {
    const answer = await fetch(where, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ ...table, said }),
    });
    if (!answer.ok) throw new Error(String(answer.status));
    save(await answer.blob(), name);
  }

  /* A figure on white paper, whatever the page looks like, with a line that says what it is of. */
  async function picture(button, format, about) {
    const graph = button.closest("figure").querySelector(".js-plotly-plot");
    const layout = structuredClone(graph.layout);
    const margin = layout.margin || {};
    const note = {
      text: about.said.replaceAll("&", "&amp;").replaceAll("<", "&lt;"),
      xref: "paper", yref: "paper", x: 0, y: 0, xanchor: "left", yanchor: "top",
      yshift: -(margin.b || 0) - 4, showarrow: false, font: { size: 12, color: INK },
    };
    Object.assign(layout, {
      paper_bgcolor: "#ffffff", plot_bgcolor: "#ffffff",
      font: { ...layout.font, color: INK },
      margin: { ...margin, b: (margin.b || 0) + NOTE_HEIGHT },
      annotations: [...(layout.annotations || []), note],
    });
    const size = graph.getBoundingClientRect();
    const address = await window.Plotly.toImage(
      { data: graph.data, layout },
      { format, width: Math.round(size.width), height: Math.round(size.height) + NOTE_HEIGHT,
        scale: format === "png" ? 2 : 1 },
    );
    const part = graph.closest(".dash-graph").id.replace(/^picture-/, "");
    const body = address.slice(address.indexOf(",") + 1);
    const blob = format === "svg"
      ? new Blob([decodeURIComponent(body)], { type: "image/svg+xml" })
      : new Blob([Uint8Array.from(atob(body), (letter) => letter.charCodeAt(0))], { type: "image/png" });
    save(blob, about.file + named(part) + "." + format);
  }

  function named(part) {
    return part ? "-" + part : "";
  }

  async function act(button) {
    const { download: kind, of: grid, where } = button.dataset;
    const about = context(button);
    if (kind === "png" || kind === "svg") return picture(button, kind, about);
    const table = rowsOf(grid);
    const name = about.file + named(grid.replace(/^table-/, ""));
    if (kind === "copy") await copy(table);
    else if (kind === "csv") save(new Blob([csv(table)], { type: "text/csv;charset=utf-8" }), name + ".csv");
    else await spreadsheet(table, where, about.said, name + ".xlsx");
    return table.rows.length;
  }

  document.addEventListener("click", async (event) => {
    const button = event.target.closest("button[data-download]");
    if (!button) return;
    const status = button.parentElement.querySelector("[role=status]");
    button.disabled = true;
    try {
      const rows = await act(button);
      status.textContent = button.dataset.done.replace("{rows}", rows ?? "");
    } catch (error) {
      status.textContent = button.dataset.failed;
    } finally {
      button.disabled = false;
      button.focus();
    }
  });
})();
