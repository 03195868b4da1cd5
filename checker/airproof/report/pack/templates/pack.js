"use strict";
(() => {
  document.documentElement.classList.add("js");
  const runs = Array.from(document.querySelectorAll(".run"), (run) => {
    const frames = Array.from(run.querySelectorAll(".frame"));
    const items = Array.from(run.querySelectorAll(".story > li"));
    const places = run.dataset.places.split(" ").map(Number);
    const marks = Array.from(run.querySelectorAll(".present"));
    const byStep = frames.map((_, step) =>
      Array.from(run.querySelectorAll(`.states [data-step="${step}"]`)));
    const status = run.querySelector(".status");
    const buttons = {};
    run.querySelectorAll("button").forEach((b) => { buttons[b.dataset.go] = b; });
    let now = -1;
    const show = (wanted) => {
      const step = Math.max(0, Math.min(frames.length - 1, wanted));
      if (step === now) { return; }
      if (now >= 0) {
        frames[now].classList.remove("now");
        byStep[now].forEach((cell) => { cell.classList.remove("now"); cell.removeAttribute("aria-current"); });
      }
      now = step;
      run.dataset.now = String(now);
      frames[now].classList.add("now");
      byStep[now].forEach((cell) => {
        cell.classList.add("now");
        if (cell.tagName === "TH") { cell.setAttribute("aria-current", "step"); }
      });
      items.forEach((item, place) => {
        const here = place + 1 === Number(frames[now].dataset.item);
        item.classList.toggle("now", here);
        if (here) { item.setAttribute("aria-current", "step"); } else { item.removeAttribute("aria-current"); }
      });
      marks.forEach((mark) => mark.setAttribute("transform", `translate(${places[now]})`));
      status.textContent = `Step ${now} of ${frames.length - 1}`;
      buttons.first.disabled = buttons.back.disabled = now === 0;
      buttons.on.disabled = buttons.last.disabled = now === frames.length - 1;
    };
    const go = {
      first: () => show(0), back: () => show(now - 1),
      on: () => show(now + 1), last: () => show(frames.length - 1),
      size: () => {
        const full = run.classList.toggle("full");
        buttons.size.setAttribute("aria-pressed", String(full));
      },
    };
    Object.entries(buttons).forEach(([name, button]) => button.addEventListener("click", () => go[name]()));
    run.querySelector(".stepper").hidden = false;
    show(0);
    return { run, go };
  });
  const seen = ({ run }) => {
    const { top, bottom } = run.getBoundingClientRect();
    return Math.min(bottom, innerHeight) - Math.max(top, 0);
  };
  const meant = () => {
    const held = runs.find(({ run }) => run.contains(document.activeElement));
    if (held) { return held; }
    return runs.reduce((best, one) => (seen(one) > 0 && (!best || seen(one) > seen(best)) ? one : best), null);
  };
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) { return; }
    const name = { ArrowLeft: "back", ArrowRight: "on" }[event.key];
    const one = name && meant();
    if (one) { event.preventDefault(); one.go[name](); }
  });
})();
