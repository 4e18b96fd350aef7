/* Where a sign-in has ended meanwhile, the page asks for it again instead of falling silent. What
   the log remembers of the orchard for when there is no server is forgotten with the sign-in. */
(function () {
  const known = (form) => "orchard-log-known" + new URL(form.action).pathname.replace(/sign-(in|out)$/, "");
  function forget(form) {
    try {
      localStorage.removeItem(known(form));
    } catch {
      /* a private window remembers nothing */
    }
  }
  const asking = document.querySelector("body.sign-in form");
  if (asking) forget(asking);
  addEventListener("submit", (event) => /sign-out$/.test(event.target.action) && forget(event.target));

  const ask = window.fetch;
  window.fetch = async function (...given) {
    const answer = await ask.apply(this, given);
    const page = /_dash-update-component$/.test(answer.url.split("?")[0]);
    if (page && answer.status === 401) {
      const here = location.pathname + location.search;
      location.assign(new URL("sign-in?on=" + encodeURIComponent(here), location.href));
      return new Promise(() => {}); // the page is on its way out
    }
    return answer;
  };
})();
