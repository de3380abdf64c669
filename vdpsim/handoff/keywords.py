"""Words that no name may be, language by language, as their standards list them.

Law: words alone, in small letters but for Python's; above each list stands what it is held against, word for word in
``tests/hardware/test_keywords.py``. Clauses of standards are told from memory, and so are the words of the lists that say so,
which no common tool refuses yet. Which name becomes what is for ``names.py``. Words that cannot come out of its rule (C's
``_Bool``, with an underscore in front) do not stand here.
"""

from __future__ import annotations

import keyword
from types import MappingProxyType
from typing import Literal

Language = Literal["verilog", "vhdl", "c", "python", "systemrdl"]

# IEEE 1364-2005, annex B: all of Verilog's. Icarus Verilog refuses each.
VERILOG = """
always and assign automatic begin buf bufif0 bufif1 case casex casez cell cmos config deassign default defparam design disable
edge else end endcase endconfig endfunction endgenerate endmodule endprimitive endspecify endtable endtask event for force
forever fork function generate genvar highz0 highz1 if ifnone incdir include initial inout input instance integer join large
liblist library localparam macromodule medium module nand negedge nmos nor noshowcancelled not notif0 notif1 or output
parameter pmos posedge primitive pull0 pull1 pulldown pullup pulsestyle_ondetect pulsestyle_onevent rcmos real realtime reg
release repeat rnmos rpmos rtran rtranif0 rtranif1 scalared showcancelled signed small specify specparam strong0 strong1
supply0 supply1 table task time tran tranif0 tranif1 tri tri0 tri1 triand trior trireg unsigned use uwire vectored wait wand
weak0 weak1 while wire wor xnor xor
"""

# IEEE 1800-2017, annex B: what SystemVerilog adds. Icarus Verilog refuses each as SystemVerilog.
SYSTEMVERILOG = """
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

# Of no annex, but no name in common tools. Types of Verilog-AMS, which Icarus Verilog refuses without it too; classes of
# SystemVerilog's package ``std`` (IEEE 1800-2017, annex G), which Verilator refuses.
AMS = """
bool wreal
"""
STD = """
mailbox process semaphore
"""

# From memory: the rest of that package, and its own name.
STD_TOO = """
randomize std
"""

# IEEE 1076-2008, 15.10. A name's case does not count. GHDL refuses each.
VHDL = """
abs access after alias all and architecture array assert assume attribute begin block body buffer bus case
component configuration constant context cover default disconnect downto else elsif end entity exit file for force
function generate generic group guarded if impure in inertial inout is label library linkage literal loop map mod nand new next
nor not null of on open or others out package parameter port postponed procedure process property protected pure range
record register reject release rem report restrict restrict_guarantee return rol ror select sequence severity shared signal sla
sll sra srl subtype then to transport type unaffected units until use variable vmode vprop vunit wait when while
with xnor xor
"""

# From memory: what IEEE 1076-2008 reserves for properties and GHDL does not, and words of IEEE 1076-2019.
VHDL_TOO = """
assume_guarantee fairness strong
private view
"""

# What every VHDL file sees without asking, and a constant would hide: IEEE 1076-2008, 16.3 (package standard). With a
# constant of such a name before it, GHDL refuses what uses the type or the value.
STANDARD = """
bit bit_vector boolean boolean_vector character delay_length false file_open_kind file_open_status integer integer_vector
natural positive real real_vector severity_level string time time_vector true
"""

# The same of what GHDL lets be hidden: a function, and libraries.
HIDDEN = """
ieee now std work
"""

# ISO/IEC 9899:2011 (C11), 6.4.1. GCC refuses each.
C = """
auto break case char const continue default do double else enum extern float for goto if inline int long register restrict
return short signed sizeof static struct switch typedef union unsigned void volatile while
"""

# Words of GNU C, and macros that it defines without an underscore on common machines (its manual, "System-specific Predefined
# Macros"). GCC refuses each as GNU C.
GNU = """
asm typeof
linux unix
"""

# Macros of C11's headers stdalign.h, assert.h, stdbool.h and threads.h, with which GCC refuses each; keywords of C23.
C_HEADERS = """
alignas alignof bool false static_assert thread_local true
"""

# From memory: ISO/IEC 9899:2024 (C23), 6.4.1, the rest of its keywords; a macro of 32-bit machines.
C_TOO = """
constexpr nullptr typeof_unqual
i386
"""

# Accellera SystemRDL 2.0, 4.2.2: its keywords, then those that it reserves. systemrdl-compiler refuses each.
SYSTEMRDL = """
abstract accesstype addressingtype addrmap alias all bit boolean bothedge compact component componentwidth constraint default
encode enum external false field fullalign hw inside internal level longint mem na negedge nonsticky number onreadtype
onwritetype posedge property r rclr ref reg regalign regfile rset ruser rw rw1 signal string struct sw this true type unsigned
w w1 wclr woclr woset wot wr wset wuser wzc wzs wzt
alternate byte int precedencetype real shortint shortreal signed with within
"""

KEYWORDS: MappingProxyType[Language, frozenset[str]] = MappingProxyType(
    {
        "verilog": frozenset((VERILOG + SYSTEMVERILOG + AMS + STD + STD_TOO).split()),
        "vhdl": frozenset((VHDL + VHDL_TOO + STANDARD + HIDDEN).split()),
        "c": frozenset((C + GNU + C_HEADERS + C_TOO).split()),
        "python": frozenset(keyword.kwlist),
        "systemrdl": frozenset(SYSTEMRDL.split()),
    }
)
"""What no name may be. ``verilog`` is for headers that Verilog-2005 and SystemVerilog both read."""
