// Light or dark on this phone, in the cookie that the desk's pages know too; a page that was kept for opening
// without a signal takes it from there.

export const THEMES = [['as the phone', 'system'], ['light', 'light'], ['dark', 'dark']];

const KEPT_SECONDS = 400 * 24 * 60 * 60;

/** What was chosen, `system` if nothing. */
export function chosenTheme() {
  const chosen = document.cookie.split('; ').find((cookie) => cookie.startsWith('theme='))?.slice('theme='.length);
  return THEMES.some(([, theme]) => theme === chosen) ? chosen : 'system';
}

/** Keeps a choice, and shows the page so. */
export function chooseTheme(theme) {
  const isKept = theme === chosenTheme();
  if (!isKept) document.cookie = `theme=${theme}; Path=/; Max-Age=${KEPT_SECONDS}; SameSite=Lax`;
  if (theme === 'system') delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = theme;
}
