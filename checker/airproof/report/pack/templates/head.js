"use strict";
(() => {
  // Pages out of view are not laid out.  Said here, for older checkers of CSS do not know it.
  const sheet = new CSSStyleSheet();
  sheet.replaceSync("@media screen { .page:not(#top) { content-visibility: auto; contain-intrinsic-size: auto 3000px; } }");
  document.adoptedStyleSheets = [sheet];
  document.documentElement.classList.add("js");
})();
