/* Has the browser keep what opens the log without a server (templates/worker.js). On the pages that
   are shown then, watches for the server and says when it answers again. */
(function () {
  const AGAIN_MS = 10000;
  const worker = window.orchardQueue.prefix() + "worker.js";
  const stands = document.body.classList.contains("offline");

  if (!stands) {
    // Browsers allow it on encrypted pages and on this computer alone.
    if ("serviceWorker" in navigator) {
      addEventListener("load", () => navigator.serviceWorker.register(worker).catch(() => {}));
    }
    return;
  }

  function colours() {
    let chosen = null;
    try {
      chosen = localStorage.getItem("mantine-color-scheme-value");
    } catch {
      /* a private window remembers nothing */
    }
    const device = matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
    document.documentElement.dataset.mantineColorScheme = ["light", "dark"].includes(chosen) ? chosen : device;
  }
  async function look() {
    const answer = await fetch(worker, { cache: "no-store" }).catch(() => null);
    if (!answer || !answer.ok) return;
    if (document.getElementById("log-form")) document.getElementById("offline-back").hidden = false;
    else location.reload();
  }
  colours();
  addEventListener("online", look);
  setInterval(look, AGAIN_MS);
})();
