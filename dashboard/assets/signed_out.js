/* Where a sign-in has ended meanwhile, the page asks for it again instead of falling silent. */
(function () {
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
