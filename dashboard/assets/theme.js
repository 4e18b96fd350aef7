/* Tells the tables whether the page is light or dark; the page itself knows. */
(function () {
  const root = document.documentElement;
  function pass() {
    const scheme = root.getAttribute("data-mantine-color-scheme");
    if (scheme && root.getAttribute("data-ag-theme-mode") !== scheme) {
      root.setAttribute("data-ag-theme-mode", scheme);
    }
  }
  new MutationObserver(pass).observe(root, { attributes: true });
  pass();
})();
