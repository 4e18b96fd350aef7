/* The place to drop a file hides the real input; those who hear the page are told what it is for,
   in the words that stand there. */
(function () {
  function tell() {
    document.querySelectorAll(".drop input[type=file]:not([aria-label])").forEach((input) => {
      input.setAttribute("aria-label", input.closest(".drop").innerText.trim().split("\n")[0]);
    });
  }
  new MutationObserver(tell).observe(document.documentElement, { childList: true, subtree: true });
})();
