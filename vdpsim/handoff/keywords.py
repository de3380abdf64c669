"""Words that no name may be, language by language, as their standards list them.

Law: words alone, in small letters but for Python's; the source stands above each list. Which name becomes what is for
``names.py``. Words that cannot come out of its rule (C's ``_Bool``, with an underscore in front) do not stand here.
"""

from __future__ import annotations

import keyword
from types import MappingProxyType
from typing import Literal

Language = Literal["verilog", "vhdl", "c", "python", "systemrdl"]

# IEEE 1364-2005, annex B: all of Verilog's.
_VERILOG = """
always and assign automatic begin buf bufif0 bufif1 case casex casez cell cmos config deassign default defparam design disable
edge else end endcase endconfig endfunction endgenerate endmodule endprimitive endspecify endtable endtask event for force
forever fork function generate genvar highz0 highz1 if ifnone incdir include initial inout input instance integer join large
liblist library localparam macromodule medium module nand negedge nmos nor noshowcancelled not notif0 notif1 or output
parameter pmos posedge primitive pull0 pull1 pulldown pullup pulsestyle_ondetect pulsestyle_onevent rcmos real realtime reg
release repeat rnmos rpmos rtran rtranif0 rtranif1 scalared showcancelled signed small specify specparam strong0 strong1
supply0 supply1 table task time tran tranif0 tranif1 tri tri0 tri1 triand trior trireg unsigned use uwire vectored wait wand
weak0 weak1 while wire wor xnor xor
"""

# IEEE 1800-2017, annex B: what SystemVerilog adds.
_SYSTEMVERILOG = """
accept_on alias always_comb always_ff always_latch assert assume before bind bins binsof bit break byte chandle checker class
clocking const constraint context continue cover covergroup coverpoint cross dist do endchecker endclass endclocking endgroup
endinterface endpackage endprogram endproperty endsequence enum eventually expect export extends extern final first_match
foreach forkjoin global iff ignore_bins illegal_bins implements implies import inside int interconnect interface intersect
join_any join_none let local logic longint matches modport nettype new nexttime null package packed priority program property
protected pure rand randc randcase randsequence ref reject_on restrict return s_always s_eventually s_nexttime s_until
s_until_with sequence shortint shortreal soft solve static string strong struct super sync_accept_on sync_reject_on tagged this
throughout timeprecision timeunit type typedef union unique unique0 until until_with untyped var virtual void wait_order weak
wildcard with within
"""

# Of no annex, but no name in common tools: what SystemVerilog's package ``std`` has (IEEE 1800-2017, annex G), and types of
# Verilog-AMS that are reserved without it too.
_TOOLS = """
mailbox process randomize semaphore std
bool wreal
"""

# IEEE 1076-2008, 15.10; ``private`` and ``view`` are those of IEEE 1076-2019. A name's case does not count.
_VHDL = """
abs access after alias all and architecture array assert assume assume_guarantee attribute begin block body buffer bus case
component configuration constant context cover default disconnect downto else elsif end entity exit fairness file for force
function generate generic group guarded if impure in inertial inout is label library linkage literal loop map mod nand new next
nor not null of on open or others out package parameter port postponed private procedure process property protected pure range
record register reject release rem report restrict restrict_guarantee return rol ror select sequence severity shared signal sla
sll sra srl strong subtype then to transport type unaffected units until use variable view vmode vprop vunit wait when while
with xnor xor
"""

# What every VHDL file sees without asking, and a constant would hide: IEEE 1076-2008, 16.3 (package standard), and libraries.
_STANDARD = """
bit bit_vector boolean boolean_vector character delay_length false file_open_kind file_open_status ieee integer integer_vector
natural now positive real real_vector severity_level std string time time_vector true work
"""

# ISO/IEC 9899:2011 (C11), 6.4.1, and ``asm`` of J.5.10; ISO/IEC 9899:2024 (C23), 6.4.1, from ``alignas`` on; then the macros that
# GNU C defines without an underscore on common machines (its manual, "System-specific Predefined Macros").
_C = """
asm auto break case char const continue default do double else enum extern float for goto if inline int long register restrict
return short signed sizeof static struct switch typedef union unsigned void volatile while
alignas alignof bool constexpr false nullptr static_assert thread_local true typeof typeof_unqual
i386 linux unix
"""

# Accellera SystemRDL 2.0, 4.2.2: its keywords and, from ``alternate`` on, those that it reserves.
_SYSTEMRDL = """
abstract accesstype addressingtype addrmap alias all bit boolean bothedge compact component componentwidth constraint default
encode enum external false field fullalign hw inside internal level longint mem na negedge nonsticky number onreadtype
onwritetype posedge property r rclr ref reg regalign regfile rset ruser rw rw1 signal string struct sw this true type unsigned
w w1 wclr woclr woset wot wr wset wuser wzc wzs wzt
alternate byte int precedencetype real shortint shortreal signed with within
"""

KEYWORDS: MappingProxyType[Language, frozenset[str]] = MappingProxyType(
    {
        "verilog": frozenset((_VERILOG + _SYSTEMVERILOG + _TOOLS).split()),
        "vhdl": frozenset((_VHDL + _STANDARD).split()),
        "c": frozenset(_C.split()),
        "python": frozenset(keyword.kwlist),
        "systemrdl": frozenset(_SYSTEMRDL.split()),
    }
)
"""What no name may be. ``verilog`` is for headers that Verilog-2005 and SystemVerilog both read."""
