"use strict";
(() => {
  // A picture larger than its place: what has changed comes to the middle, if some of it is not seen.
  const towards = (place, changed) => {
    const room = place.getBoundingClientRect();
    const boxes = changed.map((piece) => piece.getBoundingClientRect()).filter(({ width, height }) => width || height);
    const out = ({ left, top, right, bottom }) =>
      left < room.left || top < room.top || right > room.right || bottom > room.bottom;
    if (!boxes.some(out)) { return; }
    const middle = (low, high) => (Math.min(...boxes.map((box) => box[low])) + Math.max(...boxes.map((box) => box[high]))) / 2;
    place.scrollBy(middle("left", "right") - (room.left + room.right) / 2, middle("top", "bottom") - (room.top + room.bottom) / 2);
  };
  // One picture a run is on the stage; a step changes what of it is drawn otherwise.
  const stage = (frames) => {
    const kept = frames.map((frame) => frame.querySelector("noscript").textContent);
    const names = kept.map((text) => Array.from(text.matchAll(/href="(#\w+)"/g), (found) => found[1]));
    const made = frames[0].querySelector(".drawing").cloneNode(false);
    let pieces = null;
    made.classList.add("stage");
    frames[frames.length - 1].after(made);
    return {
      show: (step, large) => {
        if (!pieces) {
          made.innerHTML = kept[step];
          pieces = Array.from(made.querySelectorAll("use"));
        }
        const changed = names[step].flatMap((name, place) => {
          if (pieces[place].getAttribute("href") === name) { return []; }
          pieces[place].setAttribute("href", name);
          return [pieces[place]];
        });
        if (large) { towards(made, changed); }
        made.setAttribute("aria-label", `Drawing, step ${step}`);
        made.firstElementChild.setAttribute("aria-label", /aria-label="([^"]*)"/.exec(kept[step])[1]);
      },
      print: () => frames.forEach((frame, step) => { frame.querySelector(".drawing").innerHTML = kept[step]; }),
      element: made,
    };
  };
  const begin = (run) => {
    const frames = Array.from(run.querySelectorAll(".frame"));
    const items = Array.from(run.querySelectorAll(".story > li"));
    const places = run.dataset.places.split(" ").map(Number);
    const marks = Array.from(run.querySelectorAll(".present"));
    const columns = frames.map((_, step) => Array.from(run.querySelectorAll(`.states [data-step="${step}"]`)));
    const status = run.querySelector(".status");
    const buttons = Object.fromEntries(Array.from(run.querySelectorAll("button"), (b) => [b.dataset.go, b]));
    const picture = stage(frames);
    let now = -1;
    let seen = false;
    const leave = () => {
      frames[now].classList.remove("now");
      columns[now].forEach((cell) => { cell.classList.remove("now"); cell.removeAttribute("aria-current"); });
    };
    const enter = () => {
      frames[now].classList.add("now");
      columns[now].forEach((cell) => {
        cell.classList.add("now");
        if (cell.tagName === "TH") { cell.setAttribute("aria-current", "step"); }
      });
      items.forEach((item, place) => {
        const here = place + 1 === Number(frames[now].dataset.item);
        item.classList.toggle("now", here);
        if (here) { item.setAttribute("aria-current", "step"); } else { item.removeAttribute("aria-current"); }
      });
      marks.forEach((mark) => mark.setAttribute("transform", `translate(${places[now]})`));
    };
    const show = (wanted) => {
      const step = Math.max(0, Math.min(frames.length - 1, wanted));
      if (step === now) { return; }
      if (now >= 0) { leave(); }
      now = step;
      run.dataset.now = String(now);
      enter();
      if (seen) { picture.show(now, run.classList.contains("full")); }
      status.textContent = `Step ${now} of ${frames.length - 1}`;
      buttons.first.disabled = buttons.back.disabled = now === 0;
      buttons.on.disabled = buttons.last.disabled = now === frames.length - 1;
    };
    const look = () => { seen = true; picture.show(now); };
    const go = {
      first: () => show(0), back: () => show(now - 1),
      on: () => show(now + 1), last: () => show(frames.length - 1),
      size: () => buttons.size.setAttribute("aria-pressed", String(run.classList.toggle("full"))),
    };
    Object.entries(buttons).forEach(([name, button]) => button.addEventListener("click", () => go[name]()));
    run.querySelector(".stepper").hidden = false;
    show(0);
    new IntersectionObserver((entries, watch) => {
      if (entries.some((entry) => entry.isIntersecting)) { watch.disconnect(); look(); }
    }, { rootMargin: "900px" }).observe(run);
    const stepper = run.querySelector(".stepper");
    const place = run.querySelector(".show");
    const come = () => {
      const [bar, shown] = [stepper, place].map((element) => element.getBoundingClientRect());
      const cut = shown.top > bar.height + 20 && shown.bottom > innerHeight;
      if (bar.top < 0 || bar.bottom > innerHeight || cut) { place.scrollIntoView(); }
    };
    const roll = (far) => picture.element.scrollBy(far, 0);
    return { run, chapter: run.closest(".chapter"), go, come, roll, print: picture.print };
  };
  const runs = Array.from(document.querySelectorAll(".run"), begin);
  const height = (element) => {
    const { top, bottom } = element.getBoundingClientRect();
    return Math.min(bottom, innerHeight) - Math.max(top, 0);
  };
  const meant = () => {
    const held = runs.find(({ run }) => run.contains(document.activeElement));
    if (held) { return held; }
    const near = runs.filter(({ chapter }) => height(chapter) > 0); // the rest is not laid out
    return near.map((one) => [height(one.run), one]).filter(([much]) => much > 0)
      .sort(([a], [b]) => b - a).map(([, one]) => one)[0];
  };
  addEventListener("beforeprint", () => runs.forEach(({ print }) => print()));
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) { return; }
    const name = { ArrowLeft: "back", ArrowRight: "on" }[event.key];
    const one = name && meant();
    if (!one) { return; }
    event.preventDefault();
    if (event.shiftKey) { one.roll(name === "on" ? 120 : -120); return; }
    one.come();
    one.go[name]();
  });
})();
