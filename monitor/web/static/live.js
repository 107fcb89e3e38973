// Keeps an open sheet up to date. Without it every page works; it is then as old as its last loading.
"use strict";
(() => {
  const main = document.getElementById("main");
  if (!main || !main.querySelector("[data-live]") || !window.EventSource) return;
  const busy = () => main.contains(document.activeElement) && /^(INPUT|SELECT|TEXTAREA)$/.test(document.activeElement.tagName);
  // What somebody has reached by the keyboard is found again: by its id, by where it leads, or by its turn among its kind.
  const again = (held, old, next) => {
    if (held.id) return document.getElementById(held.id);
    const kin = [...next.querySelectorAll(held.tagName)], leads = held.getAttribute("href");
    return (leads && kin.find(one => one.getAttribute("href") === leads)) || kin[[...old.querySelectorAll(held.tagName)].indexOf(held)];
  };
  const renew = async () => {
    if (busy() || document.hidden) return;
    const answer = await fetch(location.href, {headers: {Accept: "text/html"}});
    if (!answer.ok) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("main");
    const old = main.querySelector("[data-live]"), next = fresh && fresh.querySelector("[data-live]");
    if (!next || busy() || old.innerHTML === next.innerHTML) return;
    const held = old.contains(document.activeElement) ? document.activeElement : null;
    const open = [...main.querySelectorAll("details[open][id]")].map(one => one.id);
    old.replaceWith(document.adoptNode(next));
    open.forEach(id => { const one = document.getElementById(id); if (one) one.open = true; });
    const one = held && again(held, old, next);
    if (one) one.focus({preventScroll: true});
  };
  const events = new EventSource("/events");
  events.addEventListener("round", renew);
  document.addEventListener("visibilitychange", renew);
  addEventListener("pagehide", () => events.close());
})();
