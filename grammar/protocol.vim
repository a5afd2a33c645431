" Vim syntax of protocol files. Kept true to protocol.pest by a test.
if exists("b:current_syntax")
  finish
endif

setlocal iskeyword+=-
setlocal commentstring=#\ %s

syntax keyword protocolBlock protocol library scenario people phase rule ladder rung step checklist medication

syntax keyword protocolOrder record score test follow call do continue begin set raise lower keep
syntax keyword protocolOrder pause stop give withhold recheck

syntax keyword protocolWord above accept accurate after again age amount and approved area arrival as
syntax keyword protocolWord at avoid because before below birth by caution ceiling choice cite class
syntax keyword protocolWord concentration continuous control cool covers differ dose due during end ends entries
syntax keyword protocolWord every exclude expect falls faster feedback for from gestation given goal good guideline
syntax keyword protocolWord here hold hour if in include infuse is lasts least length less
syntax keyword protocolWord let limit longer mark measure method more most moves never no not
syntax keyword protocolWord now of on only or otherwise outside over overdue overrides patients paused
syntax keyword protocolWord per plan purpose rate reading reads ready recorded reply review rises rounded
syntax keyword protocolWord share shifts show shown source start steps target temperature than then time timezone
syntax keyword protocolWord title to two unit until use version warm weight when with within
syntax keyword protocolWord workload

syntax match protocolNumber "\<\d\+\%([./]\d\+\)*\>"
syntax match protocolUnit "\%(\d\s*\)\@<=\%(micrograms\/kg\/min\|micrograms\/kg\/h\|micrograms\/min\|micrograms\/kg\|micrograms\/mL\|micrograms\/h\|mcg\/kg\/min\|micrograms\|units\/kg\/h\|mg\/kg\/min\|mmol\/kg\/h\|mcg\/kg\/h\|units\/kg\|units\/mL\|mL\/kg\/h\|mcg\/min\|mg\/kg\/h\|mmol\/kg\|mmol\/mL\|units\/h\|mcg\/kg\|mcg\/mL\|mg\/min\|mmol\/L\|mmol\/h\|months\|°C\/min\|°F\/min\|L\/min\|cmH2O\|mL\/kg\|mcg\/h\|mg\/dL\|mg\/kg\|mg\/mL\|month\|units\|weeks\|years\|\/min\|days\|g\/dL\|g\/kg\|g\/mL\|mL\/h\|mg\/h\|mmHg\|mmol\|unit\|week\|year\|°C\/h\|°F\/h\|day\|g\/L\|g\/h\|kPa\|mcg\|min\|cm\|kg\|mL\|mg\|mm\|°C\|°F\|%\|L\|W\|g\|h\|s\)\ze\%([^a-zA-Z\/-]\|$\)"
syntax match protocolClock "\<\d\{1,4}:\d\d\>\|\<\d\{4}-\d\d-\d\d\>"
syntax region protocolText start=+"+ skip=+\\"+ end=+"+ oneline
syntax region protocolText start=+"""+ end=+"""+
syntax match protocolComment "#.*$"

highlight default link protocolBlock Structure
highlight default link protocolOrder Function
highlight default link protocolWord Keyword
highlight default link protocolNumber Number
highlight default link protocolUnit Type
highlight default link protocolClock Constant
highlight default link protocolText String
highlight default link protocolComment Comment

let b:current_syntax = "protocol"
