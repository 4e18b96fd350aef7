/* Pictures keep their width while a page is printed, so that none is cut off at the paper's edge. */
(function () {
  const PAPER_WIDTH = 780; // fits A4 and US letter between usual margins, in pixels of print.css
  const widen = (width) =>
    document.querySelectorAll(".js-plotly-plot").forEach((plot) =>
      window.Plotly.relayout(plot, { width: width, autosize: width === null }));
  window.addEventListener("beforeprint", () => widen(PAPER_WIDTH));
  window.addEventListener("afterprint", () => widen(null));
})();
