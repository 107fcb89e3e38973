// Keeps an open sheet up to date. Without it every page works; it is then as old as its last loading.
"use strict";
(() => {
  const main = document.getElementById("main");
  if (!main || !main.querySelector("[data-live]") || !window.EventSource) return;
  const busy = () => main.contains(document.activeElement) && /^(INPUT|SELECT|TEXTAREA)$/.test(document.activeElement.tagName);
  const renew = async () => {
    if (busy() || document.hidden) return;
    const answer = await fetch(location.href, {headers: {Accept: "text/html"}});
    if (!answer.ok) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("main");
    const old = main.querySelector("[data-live]"), next = fresh && fresh.querySelector("[data-live]");
    if (!next || busy() || old.innerHTML === next.innerHTML) return;
    const focused = document.activeElement && document.activeElement.id;
    const open = [...main.querySelectorAll("details[open][id]")].map(one => one.id);
    old.replaceWith(document.adoptNode(next));
    open.forEach(id => { const one = document.getElementById(id); if (one) one.open = true; });
    if (focused) { const one = document.getElementById(focused); if (one) one.focus({preventScroll: true}); }
  };
  const events = new EventSource("/events");
  events.addEventListener("round", renew);
  document.addEventListener("visibilitychange", renew);
  addEventListener("pagehide", () => events.close());
})();
