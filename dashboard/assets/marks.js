/* A press on a button that marks an item of the calendar (dashboard/pages/marking.py). */
document.addEventListener("click", (event) => {
  const pressed = event.target.closest("button.mark[data-store]");
  if (!pressed) return;
  const { store, do: what, code } = pressed.dataset;
  window.dash_clientside.set_props(store, { data: { do: what, code, at: Date.now() } });
});
